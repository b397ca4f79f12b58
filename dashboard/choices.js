// In a list to choose from, what was typed to find a row is taken by Tab, by a touch elsewhere and by whatever else moves
// on, as it is by Enter: Streamlit takes it by Enter alone, and else puts back what stood there.
(() => {
  if (window.kerfledgerChoices) return;
  window.kerfledgerChoices = true;
  const choice = "[data-testid=stSelectbox] input[role=combobox]";
  let typed = null; // the field that something was typed into, and nothing chosen since

  const press = (input, key) => {
    for (const kind of ["keydown", "keyup"]) input.dispatchEvent(new KeyboardEvent(kind, { key, bubbles: true }));
  };
  const isOpen = input => input.getAttribute("aria-expanded") === "true";
  const take = () => {
    const input = typed;
    typed = null;
    // an empty field is one that was left, not a wish for the first row
    if (input?.isConnected && isOpen(input) && input.value.trim()) press(input, "Enter");
  };

  addEventListener("input", event => event.target.matches?.(choice) && (typed = event.target), true);
  addEventListener("keydown", event => {
    if (event.target !== typed || !event.isTrusted) return;
    if (event.key === "Tab") take();
    else if (event.key === "Enter" || event.key === "Escape") typed = null;
  }, true);
  addEventListener("pointerdown", event => {
    const own = typed?.closest("[data-testid=stSelectbox]")?.contains(event.target) || event.target.closest?.("[role=listbox]");
    if (typed && !own) take();
  }, true);
  addEventListener("click", event => event.target.closest?.("[role=option]") && (typed = null), true);
  // lists tell of a focus of their own, which is not the one that leaves the field
  addEventListener("focusout", event => event.isTrusted && event.target === typed && take(), true);

  // a page that moves closes the list, and with it what is typed would be lost: it opens again when the page rests
  let rested = 0;
  addEventListener("scroll", () => {
    clearTimeout(rested);
    rested = setTimeout(() => typed && document.activeElement === typed && !isOpen(typed) && press(typed, "ArrowDown"), 150);
  }, { capture: true, passive: true });
})();
