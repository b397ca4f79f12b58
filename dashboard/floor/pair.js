// The page to pair this device with.
"use strict";
(() => {
  const form = document.getElementById("pair"), told = document.getElementById("told");
  if (/^#\d+$/.test(location.hash)) {
    form.number.value = location.hash.slice(1);
    history.replaceState(null, "", "/");
  }
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    told.textContent = "Asking …";
    const answer = await floor.ask("/pair", { number: form.number.value, name: form.name.value });
    if (answer.status === 200) {
      askAgain();
      return location.replace("/");
    }
    told.textContent = {
      0: "No answer from the computer. Is it on, and on the same network?",
      401: "This number lets nobody in: it is wrong, or its time is over. Take a new one at the computer.",
      422: `${answer.told.what || ""} ${answer.told.mend || ""}`,
      503: "The computer can't read or write just now. Look there, then try again.",
      429: "Too many tries. Wait ten minutes, then take a new number at the computer.",
    }[answer.status] || "This didn't work. Take a new number at the computer.";
  });

  // what waited while this device was not paired may be of another shop, or of somebody else
  function askAgain() {
    const told = { what: "It waits here since before this device was paired.", mend: "Send it if it belongs into this log." };
    const queue = floor.store.get("queue", []);
    floor.store.put("queue", queue.map((item) => (item.state === "waits" ? { ...item, state: "refused", told } : item)));
  }
})();
