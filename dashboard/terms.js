// The words that tell their meaning are one stop of the Tab key for a row of figures or the head of a table: the arrow
// keys, Home and End go from one to the next, and the one that was gone to last is the stop from then on.
(() => {
  if (window.kerfledgerTerms) return;
  window.kerfledgerTerms = true;
  const row = "dl.kl-figures, table.kl thead";
  const goes = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1, Home: -Infinity, End: Infinity };
  addEventListener("keydown", event => {
    const term = event.target.closest?.(".kl-term > button");
    const step = goes[event.key];
    const around = step && term?.closest(row);
    if (!around || event.ctrlKey || event.metaKey || event.altKey || event.shiftKey) return;
    const all = [...around.querySelectorAll(".kl-term > button")];
    const next = all[Math.min(Math.max(all.indexOf(term) + step, 0), all.length - 1)];
    event.preventDefault();
    for (const each of all) each.tabIndex = each === next ? 0 : -1;
    next.focus();
  });
})();
