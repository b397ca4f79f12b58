// The log on the phone. What is typed is kept in this browser until the server says that it is written; every entry and
// timer has an id made here, so that sending it again writes nothing twice.
"use strict";
(() => {
  const { ask, store } = floor, main = document.querySelector("main"), $ = (id) => document.getElementById(id);
  const EVERY_MS = 5000, OFFERED = 8;
  let connected = null, paired = true, sending = false, said = "", trouble = "", kept = false;
  const queue = () => store.get("queue", []);
  const change = (id, how) => store.put("queue", queue().map((item) => (item.id === id ? { ...item, ...how } : item)));
  const without = (id) => store.put("queue", queue().filter((item) => item.id !== id));
  const known = () => store.get("now", { timers: [], words: {}, fill: {}, suggested: {}, written: [] });
  const unitOf = JSON.parse(main.dataset.units);

  function made(kind, text, more = {}) {
    const element = document.createElement(kind);
    if (text) element.textContent = text;
    return Object.assign(element, more);
  }
  function button(text, look, does) {
    return made("button", text, { type: "button", className: look, onclick: does });
  }
  function newId() {
    return Array.from(crypto.getRandomValues(new Uint8Array(16)), (byte) => byte.toString(16).padStart(2, "0")).join("");
  }

  // --- sending ---------------------------------------------------------------------------------------------------

  function put(item) {
    store.put("queue", [...queue(), { id: newId(), at: Date.now(), state: "waits", sure: [], ...item }]);
    said = "";
    render();
    send();
  }

  function message(item) {
    const { id, action, record, cells, timer, sure, suggested } = item;
    return { id, action, record, cells, timer, sure, suggested, ago_s: Math.max(0, (Date.now() - item.at) / 1000) };
  }

  const begun = (item) => !queue().some((other) => other.action === "start" && other.id === item.timer);

  async function send() {
    if (sending) return;
    sending = true;
    trouble = "";
    try {
      const skipped = new Set();
      for (let item; (item = queue().find((each) => each.state === "waits" && begun(each) && !skipped.has(each.id)));) {
        const answer = await ask("/entry", message(item));
        connected = answer.status !== 0;
        paired = answer.status !== 401;
        if (answer.status === 200) {
          without(item.id);
          said = `Written: ${answer.told.said || item.said}`;
        } else if (answer.status === 409) change(item.id, { state: "asks", told: answer.told });
        else if (answer.status === 422) change(item.id, { state: "refused", told: answer.told });
        else if ([400, 411, 413, 415].includes(answer.status))
          change(item.id, { state: "refused", told: { what: "The computer could not read this.", mend: "Load this page again, then send it once more." } });
        else if (answer.status === 500) trouble = "The computer could not take everything; it is tried again."; // the others go on
        else break;
        skipped.add(item.id);
      }
      const now = await ask("/now");
      connected = now.status !== 0;
      paired = now.status !== 401;
      if (!paired) floor.forgetShop();
      if (now.status >= 500) trouble = "The computer can't read or write just now: look there.";
      if (now.status === 200) {
        store.put("now", { ...now.told, fetched: Date.now() });
        fillOpen();
        if (!kept) floor.keepPage().then(reopens);
        kept = true;
        const here = document.activeElement;
        if (here?.dataset.words !== undefined && here.nextElementSibling.hidden && !here.dataset.chosen) offered(here);
      }
    } finally {
      sending = false;
      render();
    }
  }

  // --- what is shown -----------------------------------------------------------------------------------------------

  function clock(seconds) {
    const minutes = Math.max(0, Math.floor(seconds / 60));
    return `${Math.floor(minutes / 60)}:${String(minutes % 60).padStart(2, "0")} h`;
  }

  let shown = "";
  function render() {
    const waiting = queue().filter((item) => item.state === "waits").length;
    const line = $("line");
    const count = waiting === 1 ? "1 entry waits" : `${waiting} entries wait`;
    const keeps = store.keeps("queue");
    let text = waiting ? `${count} to be sent.` : said || "Connected. Nothing waits.";
    if (connected === null) text = "Asking the computer …";
    if (connected === false) text = waiting ? `No connection. ${count} on this device, and will be sent when it is back.` : "No connection. What you log waits on this device.";
    if (trouble) text = `${trouble}${waiting ? ` ${count} here, and nothing is lost.` : ""}`;
    if (!paired) text = `This device is no longer paired. ${waiting ? `${count} here, and nothing is lost. ` : ""}Load this page again to pair it.`;
    if (!keeps) text += " This browser keeps it no longer than the page is open: leave this page open until all is written.";
    if (line.textContent !== text) line.textContent = text;
    line.className = connected !== false && paired && keeps && !trouble ? "" : "bad";
    // what is looked at is not drawn anew under the finger
    const now = known(), state = JSON.stringify([queue(), now.timers, now.again, now.written, now.day, Math.floor(Date.now() / 60000)]);
    if (state === shown) return;
    shown = state;
    timers(now);
    waits();
    $("written").replaceChildren(...(now.written || []).map((entry) => made("li", `${entry.at}  ${entry.said}`)));
    if (!(now.written || []).length) $("written").append(made("li", "Nothing yet."));
  }

  function reopens(can) {
    $("reopens").textContent = can
      ? "Without a connection this page can be opened again from its address."
      : "Leave this page open: this browser can't open it again without a connection, for it doesn't trust the certificate or keeps no pages. What waits is kept all the same.";
  }

  function timers(now) {
    const ending = new Set(queue().filter((item) => item.state !== "refused").map((item) => item.timer));
    const since = (Date.now() - (now.fetched || Date.now())) / 1000;
    const begun = queue().filter((item) => item.action === "start" && item.state === "waits");
    const all = [
      ...(now.timers || []).map((timer) => ({ ...timer, seconds: timer.seconds + since })),
      ...begun.map((item) => ({ id: item.id, said: item.said, seconds: (Date.now() - item.at) / 1000 })),
    ].filter((timer) => !ending.has(timer.id));
    $("timers").replaceChildren(...all.map(running));
    const again = $("again");
    again.hidden = !now.again || all.some((timer) => timer.said === now.again.said);
    if (now.again) {
      again.textContent = `Start again: ${now.again.said}`;
      again.onclick = () => put({ action: "start", cells: now.again.cells, said: now.again.said });
    }
  }

  function running(timer) {
    const card = made("div", "", { className: "card runs" });
    const drop = button("Throw away", "quiet", () => {
      if (drop.dataset.sure) return put({ action: "drop", timer: timer.id, said: `Throw away: ${timer.said}` });
      drop.dataset.sure = "yes";
      drop.textContent = "Press again to throw it away; it is not logged";
    });
    card.append(
      made("span", timer.said),
      made("b", clock(timer.seconds), { className: "clock" }),
      button("Stop and log it", "main", () => put({ action: "stop", timer: timer.id, said: timer.said })),
      drop,
    );
    return card;
  }

  function waits() {
    $("waits").replaceChildren(...queue().map((item) => {
      const card = made("div", "", { className: item.state === "waits" ? "card" : "card bad" });
      const what = { start: "Start", stop: "Stop", drop: "Throw away" }[item.action] || item.title;
      card.append(made("span", `${item.state === "waits" ? "Waits" : "Not written yet"}. ${what}: ${item.said}`));
      if (item.state === "waits") return card;
      card.append(made("b", item.told.what), made("span", item.told.mend));
      const again = (how) => { change(item.id, { state: "waits", told: null, ...how }); render(); send(); };
      for (const answer of item.told.answers || [])
        card.append(button(Object.values(answer).join(", "), "main", () => again({ cells: { ...item.cells, ...answer } })));
      if (item.told.may_stand) card.append(button(`“${item.told.text}” as it stands`, "", () => again({ sure: [...item.sure, [item.told.field, item.told.text]] })));
      if (item.state === "refused") card.append(button("Send it again", "", () => again({})));
      if (item.record) card.append(button("Change it", "", () => reopen(item)));
      const away = button("Throw it away", "quiet", () => {
        if (away.dataset.sure) { without(item.id); return render(); }
        away.dataset.sure = "yes";
        away.textContent = "Press again to throw it away; it is not logged";
      });
      card.append(away);
      return card;
    }));
  }

  // --- forms -------------------------------------------------------------------------------------------------------

  const inputs = (form) => [...form.querySelectorAll("input, select")];
  const valueOf = (input) => (input.type === "checkbox" ? (input.checked ? "yes" : "no") : input.value.trim());
  function setValue(input, text) {
    if (input.type === "checkbox") input.checked = text === "yes";
    else input.value = text;
  }
  function today() {
    const now = known(), here = new Date();
    if (now.day && Date.now() - now.fetched < 60000) return now.day;
    return `${here.getFullYear()}-${String(here.getMonth() + 1).padStart(2, "0")}-${String(here.getDate()).padStart(2, "0")}`;
  }

  function firstOf(input, record) {
    if (input.dataset.first === "today") return today();
    const now = known(), name = input.name;
    const suggested = now.suggested?.[record]?.[name];
    if (suggested) return suggested;
    const pieces = now.fill?.pieces || "";
    if (["hours", "pours", "inspections", "usage"].includes(record)) {
      if (name === "pieces") return pieces;
      if (name === "piece" && !pieces.includes(";")) return pieces;
    }
    if (["person", "resin"].includes(name)) return now.fill?.[name] || "";
    return input.dataset.first || "";
  }

  // only what nobody has touched; what stands there while somebody looks stays
  function filled(form, emptyOnly) {
    for (const input of inputs(form)) {
      // a page that stays open over night has another day in the morning
      if (input.dataset.touched || (emptyOnly && input.dataset.first !== "today" && (input.type === "checkbox" || input.value))) continue;
      setValue(input, firstOf(input, form.dataset.record));
    }
    byCategory(form);
  }

  const fillOpen = () => document.querySelectorAll("form:not([hidden])").forEach((form) => filled(form, true));

  function keep(form) {
    const touched = inputs(form).filter((input) => input.dataset.touched);
    store.put(`draft-${form.dataset.record}`, Object.fromEntries(touched.map((input) => [input.name, valueOf(input)])));
  }
  function restore(form, cells) {
    for (const input of inputs(form)) {
      if (!(input.name in cells)) continue;
      setValue(input, cells[input.name]);
      input.dataset.touched = "yes";
    }
  }
  function empty(form) {
    for (const input of inputs(form)) delete input.dataset.touched;
    store.put(`draft-${form.dataset.record}`, {});
    filled(form);
  }

  function byCategory(form) {
    const category = form.elements.category, unit = form.elements.unit;
    if (form.dataset.record !== "purchases") return;
    const chosen = category.value.trim().toLowerCase();
    for (const field of form.querySelectorAll("[data-of]")) field.hidden = !field.dataset.of.split(" ").includes(chosen);
    if (!unit.dataset.touched) unit.value = unitOf[chosen] || "";
  }

  function open(form, wanted) {
    for (const other of document.querySelectorAll("form")) {
      const shown = other === form && wanted;
      other.hidden = !shown;
      other.previousElementSibling.setAttribute("aria-expanded", String(shown));
    }
    store.put("open", wanted ? form.dataset.record : "");
    if (!wanted) return;
    filled(form);
    form.previousElementSibling.scrollIntoView({ block: "start" });
  }

  function fault(form, text) {
    const told = form.querySelector(".fault");
    told.textContent = text;
    told.hidden = !text;
  }

  function reopen(item) {
    const form = $(`form-${item.record}`);
    if (Object.keys(store.get(`draft-${item.record}`, {})).length) {
      open(form, true);
      return fault(form, "Something is typed here already: log it, or empty this form first.");
    }
    restore(form, item.cells);
    keep(form);
    without(item.id);
    render();
    open(form, true);
  }

  function cellsOf(form) {
    const shown = inputs(form).filter((input) => !input.closest("[data-of][hidden]"));
    return Object.fromEntries(shown.map((input) => [input.name, valueOf(input)]).filter(([, text]) => text));
  }

  function lacks(form, cells, start) {
    const needed = inputs(form).filter((input) => "needed" in input.dataset && !cells[input.name] && !(start && input.name === "date"));
    const names = needed.map((input) => input.name.replaceAll("_", " "));
    if (form.dataset.record === "hours" && !start && !cells.hours && !(cells.started_at && cells.ended_at)) names.push("hours (or the times it began and ended)");
    return names.length ? `Still needed: ${names.join(", ")}.` : "";
  }

  function logged(form, start) {
    const cells = cellsOf(form), lacking = lacks(form, cells, start);
    fault(form, lacking);
    if (lacking) return;
    const name = form.dataset.record, own = ["operation", "pieces", "person", "machine", "rework", "event", "note"];
    const told = start ? Object.fromEntries(Object.entries(cells).filter(([each]) => own.includes(each))) : cells;
    const words = Object.entries(told).filter(([each, text]) => each !== "date" && !["yes", "no"].includes(text)).map(([, text]) => text);
    const item = start ? { action: "start" } : { action: "entry", record: name, suggested: known().suggested?.[name]?.pour || "" };
    put({ ...item, cells: told, title: form.dataset.title, said: words.slice(0, 6).join(", ") });
    empty(form);
    open(form, false);
    window.scrollTo(0, 0);
  }

  // --- words to choose from, below their field ------------------------------------------------------------------------

  function offered(input) {
    const list = input.nextElementSibling, several = "several" in input.dataset;
    const words = known().words?.[input.form.dataset.record]?.[input.name] || [];
    const all = [...words, ...input.dataset.words.split("|").filter(Boolean).map((word) => [word, word])];
    // what was filled in gives way to what is chosen
    const parts = !input.dataset.touched ? [""] : several ? input.value.split(";") : [input.value];
    const typed = parts[parts.length - 1].trim().toLowerCase();
    const whole = all.some(([word]) => word.toLowerCase() === typed);
    const taken = new Set(parts.map((part) => part.trim().toUpperCase()));
    const near = all.filter(([word, text]) => (whole || text.toLowerCase().includes(typed)) && !taken.has(word.toUpperCase()));
    list.replaceChildren(...near.slice(0, OFFERED).map(([word, text]) => button(text, "", () => {
      const before = several ? [...parts.slice(0, whole ? undefined : -1).map((part) => part.trim()).filter(Boolean), word] : [word];
      input.value = before.join("; ");
      input.dispatchEvent(new Event("input", { bubbles: true }));
      input.dataset.chosen = "yes";
      list.hidden = true;
    })));
    list.hidden = !near.length;
  }

  document.addEventListener("focusin", (event) => {
    if (event.target.dataset?.words === undefined) return;
    if (!event.target.dataset.touched) event.target.select(); // and to what is typed
    offered(event.target);
  });
  // by the click that ends a tap: nothing moves away under the finger
  document.addEventListener("click", (event) => {
    for (const list of document.querySelectorAll(".words:not([hidden])"))
      if (!list.contains(event.target) && list.previousElementSibling !== event.target) list.hidden = true;
  });

  document.addEventListener("input", (event) => {
    const input = event.target, form = input.form;
    if (!form) return;
    input.dataset.touched = "yes";
    delete input.dataset.chosen;
    keep(form);
    fault(form, "");
    if (input.name === "category") byCategory(form);
    if (input.dataset.words !== undefined) offered(input);
  });

  // the key that ends a field must not log what is only half typed
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || event.target.tagName !== "INPUT") return;
    event.preventDefault();
    event.target.blur();
  });

  for (const form of document.querySelectorAll("form")) {
    restore(form, store.get(`draft-${form.dataset.record}`, {}));
    form.previousElementSibling.addEventListener("click", () => open(form, form.hidden));
    form.addEventListener("submit", (event) => { event.preventDefault(); logged(form, false); });
    form.querySelector('[data-do="start"]')?.addEventListener("click", () => logged(form, true));
    form.querySelector('[data-do="empty"]').addEventListener("click", () => { fault(form, ""); empty(form); });
  }
  const opened = store.get("open", "");
  if (opened && $(`form-${opened}`)) open($(`form-${opened}`), true);

  const look = () => { if (!document.hidden) { fillOpen(); send(); } };
  addEventListener("online", look);
  addEventListener("storage", render);
  document.addEventListener("visibilitychange", look);
  setInterval(look, EVERY_MS);
  render();
  send();
})();
