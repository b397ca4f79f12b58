// In a list to choose from, what was typed to find a row is taken by Enter, by Tab, by a touch elsewhere and by whatever
// else moves on: Streamlit takes it by Enter alone, and there only once the list has found its rows; else it puts back
// what stood there. What fits no row is said beside the list, which goes on showing what the page is of.
(() => {
  if (window.kerfledgerChoices) return;
  window.kerfledgerChoices = true;
  const choice = "[data-testid=stSelectbox] input[role=combobox]";
  let typed = null; // the field that something was typed into, and nothing chosen since
  let before = ""; // what stood in it
  let typedAt = 0;
  let walked = false; // whether a row of its list was gone to by arrow since
  let taking = 0; // how many fields are being asked to take what was typed
  let chosen = { at: -Infinity }; // when a row was chosen last, and what the address was then

  const press = (input, key) => {
    for (const kind of ["keydown", "keyup"]) input.dispatchEvent(new KeyboardEvent(kind, { key, bubbles: true }));
  };
  const part = (input, relatedTarget = null) => input.dispatchEvent(new FocusEvent("focusout", { bubbles: true, relatedTarget }));
  const write = (input, text) => {
    Object.getOwnPropertyDescriptor(HTMLInputElement.prototype, "value").set.call(input, text);
    input.dispatchEvent(new Event("input", { bubbles: true }));
  };
  const isOpen = input => input.getAttribute("aria-expanded") === "true";
  const box = input => input.closest("[data-testid=stSelectbox]");
  // the row that is called just so, whichever one the list has come to stand on by the time that it is open
  const rows = input => [...(document.getElementById(input.getAttribute("aria-controls"))?.querySelectorAll("[role=option]") ?? [])];
  const same = (one, other) => one.trim().toLowerCase() === other.trim().toLowerCase();
  const active = input => document.getElementById(input.getAttribute("aria-activedescendant"));
  // The list opens and finds its rows in its own time, later than one who types fast is gone: until then it is told
  // neither that Enter was pressed nor that it was left, for then it would forget what was typed. What has the focus
  // meanwhile keeps it. A list that is only just there closes without taking the row: it is given one look's time, and
  // asked again where it did. `left`: the field was left, by whatever way; else Enter was pressed in it.
  const take = (left, tries = 3) => {
    const [input, stood, text, gone] = [typed, before, typed.value.trim(), walked];
    typed = null;
    taking++;
    let [looks, searched, stands] = [0, 0, null]; // of both, how often the list was open, and had no such row
    const lost = () => (taking--, replaced(input, text));
    const told = () => {
      if (!input.isConnected) return lost();
      if (typed === input) return taking--;
      const waits = !left && document.activeElement === input && isOpen(input);
      // a field that keeps the focus shows what was typed, taken or not; once told that it was left, what is chosen
      if (!left && !waits) part(input);
      setTimeout(() => {
        taking--;
        if (!input.isConnected) return replaced(input, text);
        if (!left && !waits && document.activeElement === input) input.dispatchEvent(new FocusEvent("focusin", { bubbles: true }));
        if (!text || typed === input || (!waits && within(text, input.value))) return;
        if (waits || left || searched || tries < 2 || document.activeElement !== input) return tell(input, text, stood, searched);
        write(input, text);
        take(false, tries - 1);
      }, 50);
    };
    const leave = () => {
      if (!input.isConnected) return lost();
      if (left) part(input, document.activeElement);
      setTimeout(told, 300);
    };
    const look = () => {
      if (!input.isConnected) return lost();
      if (typed === input) return taking--; // more is typed meanwhile: that counts
      const row = isOpen(input) && active(input);
      const named = !gone && isOpen(input) && rows(input).find(one => same(text, one.textContent));
      if (named && named !== stands) return setTimeout(look, 50, (stands = named));
      if (named) choose(() => named.click());
      else if (row && within(text, row.textContent)) choose(() => press(input, "Enter"));
      else if (++looks < 120 && searched < 20) {
        if (isOpen(input)) searched++;
        // a page that moves has closed it
        else if (looks % 5 === 1) press(input, "ArrowDown");
        return setTimeout(look, 50);
      }
      setTimeout(leave, 50);
    };
    // an empty field is one that was left, not a wish for the first row
    if (text) look();
    else setTimeout(leave, 0);
  };
  // a page that was drawn anew has another field in its place, which knows nothing of what was typed
  const replaced = (input, text) => {
    const label = input.getAttribute("aria-label");
    const until = performance.now() + 10000;
    const look = () => {
      const field = [...document.querySelectorAll(choice)].find(one => one.getAttribute("aria-label") === label);
      if (!field && performance.now() < until) setTimeout(look, 100);
      else if (field && text && !within(text, field.value)) tell(field, text, field.value, false);
    };
    look();
  };
  // a field that is taken away while one types is left without a word of the browser
  new MutationObserver(() => {
    if (!typed || typed.isConnected) return;
    const [input, text] = [typed, typed.value.trim()];
    typed = null;
    setTimeout(() => replaced(input, text), 300);
  }).observe(document.body, { childList: true, subtree: true });
  // asked by `rest.js`: newer figures wait for what is being typed, though not for one who went away from it
  window.kerfledgerChoosing = () =>
    taking > 0 || (typed !== null && document.activeElement === typed && performance.now() - typedAt < 600000);
  const choose = act => {
    chosen = { at: performance.now(), address: location.search };
    act?.();
  };
  // A choice comes to stand in the address only when the server has answered; a page that is asked for before knows
  // nothing of it. So a link waits for what was chosen just now, or typed and is being taken, and takes it along.
  const choosing = () => taking || (performance.now() - chosen.at < 1000 && location.search === chosen.address);
  const follow = (link, until) => {
    if (choosing() && performance.now() < until) return setTimeout(() => follow(link, until), 30);
    const there = new URL(link.href);
    const old = new URLSearchParams(chosen.address);
    for (const [name, value] of new URLSearchParams(location.search))
      if (there.pathname !== location.pathname && old.get(name) !== value) there.searchParams.set(name, value);
    window.kerfledgerFollow(there.pathname + there.search + there.hash, link);
  };
  addEventListener("click", event => {
    const elsewhere = event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey;
    const link = event.target.closest?.("a[href]");
    if (!event.isTrusted || !link || elsewhere || link.target || link.download || !choosing()) return;
    if (link.origin !== location.origin || link.getAttribute("href").startsWith("#")) return;
    event.preventDefault();
    event.stopImmediatePropagation();
    follow(link, performance.now() + 2000);
  }, true);
  // as the list finds its rows: all letters, in this order
  const within = (text, row) => {
    let at = 0;
    return [...text.toLowerCase()].every(letter => (at = row.toLowerCase().indexOf(letter, at) + 1));
  };
  const tell = (input, text, stood, none) => {
    untell(input);
    const told = Object.assign(document.createElement("p"), { className: "kl-unfit", role: "alert" });
    const why = none ? "is none of the rows here" : "was not taken: type it again";
    told.textContent = `“${text}” ${why}` + (stood ? `; “${stood}” stays chosen.` : ".");
    box(input).append(told);
  };
  const untell = input => box(input)?.querySelector(".kl-unfit")?.remove();

  addEventListener("beforeinput", event => {
    if (!event.target.matches?.(choice) || typed === event.target) return;
    before = event.target.value;
  }, true);
  addEventListener("input", event => {
    if (!event.target.matches?.(choice)) return;
    typed = event.target;
    typedAt = performance.now();
    walked = false;
    untell(typed);
  }, true);
  addEventListener("keydown", event => {
    if (event.target !== typed || !event.isTrusted) return;
    if (event.key.startsWith("Arrow")) walked = true;
    if (event.key === "Tab") event.stopImmediatePropagation(); // the list would put back what stood
    else if (event.key === "Escape") typed = null;
    else if (event.key === "Enter") {
      event.stopImmediatePropagation();
      event.preventDefault();
      take(false);
    }
  }, true);
  addEventListener("pointerdown", event => {
    const own = (typed && box(typed)?.contains(event.target)) || event.target.closest?.("[role=listbox]");
    if (typed && !own) typed.blur();
  }, true);
  addEventListener("click", event => {
    if (!event.target.closest?.("[role=option]")) return;
    choose();
    if (typed) untell(typed);
    typed = null;
  }, true);
  // lists tell of a focus of their own, which is not the one that leaves the field
  addEventListener("focusout", event => {
    if (!event.isTrusted || event.target !== typed || event.relatedTarget?.closest?.("[role=listbox]")) return;
    event.stopImmediatePropagation();
    take(true);
  }, true);

  // a page that moves closes the list: it opens again when the page rests
  let rested = 0;
  addEventListener("scroll", () => {
    clearTimeout(rested);
    rested = setTimeout(() => typed && document.activeElement === typed && !isOpen(typed) && press(typed, "ArrowDown"), 150);
  }, { capture: true, passive: true });
})();
