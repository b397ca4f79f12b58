// Offers words under a text field while one types. What stands in the field is what is typed, at every letter, so that no
// way of leaving it loses anything; the list only helps. A field for several words shows each that is done in a frame of
// its own, before the one that is being typed. A field of a closed list takes no other word: what is left in it becomes the
// first row that it fits, as by Enter, and what fits none is said beside it and stays to be corrected. Which words are
// offered stands in the page's elements of class `kl-words`.
(() => {
  if (window.kerfledgerWords) return;
  window.kerfledgerWords = true;
  const most = 60; // rows of a list: who looks for another types on
  const fields = new WeakMap(); // what one types into → its field
  const wired = new WeakMap(); // Streamlit's own input → its field
  const read = new WeakMap(); // an element of words → its text, and what that says
  let shown = null; // the list that is open: { field, list, words, at }

  const made = (tag, name, text = "") => Object.assign(document.createElement(tag), { className: name, textContent: text });
  const said = (field, word) => field.offer.names[word] ?? word;
  const same = (one, other) => one.trim().toLowerCase() === other.trim().toLowerCase();
  // the word that a text says: itself, or the one whose whole row it is
  const meant = (field, text) => field.offer.words.find(word => same(said(field, word), text)) ?? text.trim();

  // React takes a value for its own when it is set by the element's own setter and told as typed
  const put = (input, text) => {
    Object.getOwnPropertyDescriptor(HTMLInputElement.prototype, "value").set.call(input, text);
    input.dispatchEvent(new Event("input", { bubbles: true }));
  };

  const write = field => {
    field.wrote = [...field.chosen, field.input.value.trim()].filter(Boolean).join("; ");
    put(field.under, field.wrote);
  };
  const draw = field => {
    field.box.querySelectorAll(".kl-chip").forEach(chip => chip.remove());
    for (const word of field.chosen) {
      const chip = made("span", "kl-chip", said(field, word));
      const off = made("button", "", "×");
      Object.assign(off, { type: "button", tabIndex: -1, ariaLabel: `Remove ${word}` });
      off.addEventListener("click", () => (drop(field, word), field.input.focus()));
      chip.title = said(field, word);
      chip.append(off);
      field.input.before(chip);
    }
    field.input.placeholder = field.chosen.length ? "" : field.under.placeholder;
    field.box.scrollLeft = field.box.scrollWidth;
  };
  const drop = (field, word) => {
    field.chosen = field.chosen.filter(other => other !== word);
    field.touched = true;
    draw(field);
    write(field);
  };
  const add = (field, text) => {
    const word = meant(field, text);
    if (word && !field.chosen.some(other => same(other, word))) field.chosen.push(word);
  };

  const take = (field, word) => {
    close();
    untell(field);
    field.touched = true;
    if (field.box) {
      field.input.value = "";
      add(field, word);
      draw(field);
      write(field);
      return;
    }
    put(field.input, word);
    // outside of a form that is when Streamlit takes it; within one it is taken already
    field.input.dispatchEvent(new KeyboardEvent("keydown", { key: "Enter", bubbles: true }));
  };
  const settle = field => {
    close();
    const text = field.input.value;
    if (!text.trim()) return;
    if (field.box) return take(field, text);
    const known = field.offer.words.some(word => same(word, meant(field, text)));
    const word = known || !field.offer.closed ? meant(field, text) : fitting(field, text)[0];
    if (word === undefined) tell(field);
    else if (word !== text.trim()) put(field.input, word);
  };
  const tell = field => {
    const first = field.offer.words.slice(0, 8).map(word => said(field, word)).join(", ");
    const told = made("p", "kl-unfit", `“${field.input.value.trim()}” is none of the words here: ${first}${field.offer.words.length > 8 ? ", …" : "."}`);
    told.role = "alert";
    untell(field);
    field.told = told;
    field.input.setAttribute("aria-invalid", "true");
    field.under.closest("[data-testid=stTextInput]").append(told);
  };
  const untell = field => {
    field.told?.remove();
    if (field.told) field.input.removeAttribute("aria-invalid");
    field.told = null;
  };

  const matches = field => {
    const text = field.input.value.trim();
    if (text && (field.typing || field.box)) return fitting(field, text);
    return field.offer.words.filter(word => !field.chosen.includes(word)); // opened anew, it shows what else there is
  };
  const fitting = (field, typed) => {
    const text = typed.trim().toLowerCase();
    const open = field.offer.words.filter(word => !field.chosen.includes(word));
    const place = word => Math.min(...[word, said(field, word)].map(name => name.toLowerCase()).map(
      name => name === text ? 0 : name.startsWith(text) ? 1 : name.includes(text) ? 2 : 3));
    const found = open.map(word => [place(word), word]).filter(([at]) => at < 3);
    return found.sort(([one], [other]) => one - other).map(([, word]) => word);
  };
  const open = field => {
    close();
    if (!field.offer.words.length) return;
    const text = field.input.value.trim();
    const words = matches(field);
    const rows = words.slice(0, most).map(word => [word, said(field, word)]);
    if (text && !field.offer.closed && ![...field.offer.words, ...field.chosen].some(word => same(word, text))) rows.unshift([text, `Add: ${text}`]);
    if (!rows.length) return;
    const list = made("ul", "kl-list");
    Object.assign(list, { id: "kl-list", role: "listbox", ariaLabel: field.input.ariaLabel, popover: "manual" });
    rows.forEach(([word, name], at) => {
      const row = made("li", "", name);
      Object.assign(row, { id: `kl-list-${at}`, role: "option", ariaSelected: "false" });
      row.addEventListener("click", () => take(field, word));
      list.append(row);
    });
    if (words.length > most) list.append(made("li", "kl-more", `${words.length - most} more: type on to find them`));
    // the field keeps the focus, and so the phone its keys
    list.addEventListener("mousedown", event => event.preventDefault());
    document.body.append(list);
    list.showPopover();
    shown = { field, list, words: rows.map(([word]) => word), at: -1, first: rows.length - words.slice(0, most).length };
    field.input.setAttribute("aria-expanded", "true");
    field.input.setAttribute("aria-controls", list.id);
    place();
    if (field.offer.closed && field.typing) go(1);
  };
  const close = () => {
    if (!shown) return;
    shown.list.remove();
    shown.field.input.setAttribute("aria-expanded", "false");
    shown.field.input.removeAttribute("aria-activedescendant");
    shown = null;
  };
  const place = () => {
    if (!shown) return;
    if (!shown.field.input.isConnected) return close();
    const frame = (shown.field.box ?? shown.field.input).parentElement.getBoundingClientRect();
    const seen = window.visualViewport ?? { offsetTop: 0, height: innerHeight };
    const [below, above] = [seen.offsetTop + seen.height - frame.bottom - 8, frame.top - seen.offsetTop - 8];
    const up = below < 160 && above > below;
    const { style } = shown.list;
    style.left = `${frame.left}px`;
    style.width = `${frame.width}px`;
    style.maxHeight = `${Math.max(96, Math.min(300, up ? above : below))}px`;
    style.top = up ? "auto" : `${frame.bottom + 4}px`;
    style.bottom = up ? `${innerHeight - frame.top + 4}px` : "auto";
  };
  const go = step => {
    const count = shown.words.length;
    if (shown.at < 0) shown.at = step > 0 ? shown.first % count : count - 1;
    else shown.at = (shown.at + step + count) % count;
    [...shown.list.children].forEach((row, at) => (row.ariaSelected = String(at === shown.at)));
    shown.list.children[shown.at].scrollIntoView({ block: "nearest" });
    shown.field.input.setAttribute("aria-activedescendant", `kl-list-${shown.at}`);
  };

  addEventListener("input", event => {
    const field = fields.get(event.target);
    if (!field || !event.isTrusted) return;
    field.touched = field.typing = true;
    untell(field);
    if (field.box) {
      const parts = field.input.value.split(/[;,]/);
      if (parts.length > 1) {
        field.input.value = parts.pop();
        parts.forEach(part => add(field, part));
        draw(field);
      }
      write(field);
    }
    open(field);
  }, true);
  addEventListener("click", event => {
    const field = fields.get(event.target);
    if (field && !shown) open(field);
    // a word of a closed list is replaced, not mended
    if (field?.offer.closed && !field.typing) field.input.select();
  }, true);
  addEventListener("focusin", event => {
    const field = fields.get(event.target);
    if (field) field.typing = false;
  }, true);
  addEventListener("focusout", event => {
    const field = fields.get(event.target);
    if (field && event.isTrusted) settle(field);
  }, true);
  addEventListener("keydown", event => {
    const field = fields.get(event.target);
    if (!field || !event.isTrusted || event.isComposing) return;
    const chosen = shown?.words[shown.at];
    const bare = !event.ctrlKey && !event.metaKey && !event.altKey;
    if (["ArrowDown", "ArrowUp"].includes(event.key) && bare) {
      event.preventDefault();
      if (!shown) open(field);
      if (shown) go(event.key === "ArrowDown" ? 1 : -1);
    } else if (event.key === "Enter" || event.key === "Tab") {
      if (chosen === undefined) settle(field);
      else take(field, chosen);
    } else if (event.key === "Escape" && shown) {
      event.stopPropagation();
      close();
    } else if (event.key === "Backspace" && field.box && !field.input.value && field.chosen.length) {
      drop(field, field.chosen.at(-1));
    }
  }, true);
  for (const moved of ["scroll", "resize"]) {
    addEventListener(moved, event => event.target !== shown?.list && place(), { capture: true, passive: true });
    window.visualViewport?.addEventListener(moved, place);
  }

  const frame = under => {
    const [box, input] = [made("div", "kl-chosen"), made("input", "kl-typed")];
    Object.assign(input, { type: "text", ariaLabel: under.ariaLabel, id: `${under.id}-typed` });
    under.closest("[data-testid=stTextInput]").querySelector("label")?.setAttribute("for", input.id);
    under.removeAttribute("aria-label");
    under.classList.add("kl-under");
    box.append(input);
    under.before(box);
    return { box, input };
  };
  const wire = (under, offer) => {
    let field = wired.get(under);
    if (!field) {
      field = { under, input: under, chosen: [], wrote: "", ...(offer.several ? frame(under) : {}) };
      wired.set(under, field);
      fields.set(field.input, field);
      const told = { role: "combobox", "aria-autocomplete": "list", "aria-expanded": "false", autocomplete: "off" };
      Object.entries({ ...told, autocapitalize: "off", spellcheck: "false" }).forEach(pair => field.input.setAttribute(...pair));
    }
    const renamed = field.offer !== offer;
    field.offer = offer;
    if (offer.closed) field.input.dataset.klClosed = "";
    // where all words are seen at once, a finger needs no keys
    if (offer.closed && offer.words.length <= 10 && matchMedia("(pointer: coarse)").matches) field.input.inputMode = "none";
    if (offer.fill && !field.touched && !under.value) put(under, offer.fill);
    if (!field.box) return;
    if (under.value !== field.wrote) {
      field.wrote = under.value;
      field.chosen = [];
      field.wrote.split(";").forEach(part => add(field, part));
    } else if (!renamed) return;
    draw(field);
  };
  const offers = told => {
    const [text, offer] = read.get(told) ?? [];
    if (text !== told.dataset.words) read.set(told, [told.dataset.words, JSON.parse(told.dataset.words)]);
    return text === told.dataset.words ? offer : read.get(told)[1];
  };
  let due = 0;
  const look = () => {
    due = 0;
    for (const told of document.querySelectorAll(".kl-words")) {
      for (const [key, offer] of Object.entries(offers(told))) {
        const under = document.querySelector(`.${CSS.escape(key)} [data-testid=stTextInputField]`);
        if (under) wire(under, offer);
      }
    }
    if (shown && !shown.field.input.isConnected) close();
  };
  const changes = { childList: true, subtree: true, attributeFilter: ["data-words", "value"] };
  new MutationObserver(() => (due ||= setTimeout(look))).observe(document.body, changes);
  look();
})();
