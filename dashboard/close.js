// What is closed leaves the address at once, as it does by the browser's Back button: the server takes it out only when it
// answers, and until then each other choice would be sent with it, and open it anew. And Escape closes what the address
// says is open also while the page is being made, when Streamlit takes it off the screen for a moment, or has put it back
// without the keys.
(() => {
  if (window.kerfledgerClose) return;
  window.kerfledgerClose = true;
  const dialog = () => document.querySelector("[role=dialog]");
  const open = () => new URLSearchParams(location.search).has("open");

  const leave = () => {
    const there = new URL(location.href);
    there.searchParams.delete("open");
    history.pushState({}, "", there);
    dispatchEvent(new PopStateEvent("popstate", { state: {} }));
  };

  const look = event => {
    if (!event.isTrusted || !open()) return;
    const before = dialog();
    // Escape closes a list first, and whatever holds the keys is asked before this is
    const lost = event.key === "Escape" && !document.querySelector("[role=listbox]") && !before?.contains(event.target);
    setTimeout(() => {
      if (open() && (before ? !dialog() || lost : lost)) leave();
    });
  };
  for (const kind of ["keydown", "pointerup", "click"]) addEventListener(kind, look, true);
})();
