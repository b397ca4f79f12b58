// Lets newer figures in when nobody is in the middle of something: drawing the page anew closes a list that is open, moves
// what a finger aims at, and can empty a form that is half filled. The button that draws it stands on the page meanwhile.
(() => {
  if (window.kerfledgerRest) return;
  window.kerfledgerRest = true;
  const rest = 1500; // ms after the last touch
  const kept = 600000; // ms that a form waits for who filled it
  const form = "[data-testid=stForm]";
  const aside = "[role=listbox], [role=dialog]";
  let touched = 0;
  let filled = { at: 0 };

  const touch = () => (touched = Date.now());
  // a phone's keys, and what is dictated or filled in, are inputs without a key
  for (const kind of ["pointerdown", "pointermove", "wheel", "keydown", "beforeinput"]) addEventListener(kind, touch, { capture: true, passive: true });

  const fill = () => (filled = { at: Date.now(), page: location.pathname });
  // what a script of ours puts in is nobody's work
  addEventListener("input", event => event.isTrusted && event.target.closest?.(form) && fill(), true);
  addEventListener("click", event => {
    const sent = event.target.closest?.("[data-testid=stFormSubmitButton]");
    // a list lies outside of its form; the field that it belongs to is still in focus
    const listed = event.target.closest?.(aside) && document.activeElement?.closest(form);
    if (sent) filled = { at: 0 };
    else if (listed || event.target.closest?.(form)) fill();
  }, true);

  const busy = () => {
    const now = Date.now();
    const half = now - filled.at < kept && location.pathname === filled.page && document.querySelector(form);
    // what the address says is open may be on its way
    const opens = new URLSearchParams(location.search).has("open");
    const typing = window.kerfledgerChoosing?.() || window.kerfledgerSending?.() || half;
    return now - touched < rest || typing || opens || document.querySelector(aside);
  };

  setInterval(() => {
    const newer = document.querySelector("[class*=st-key-newer-] button");
    const made = document.querySelector("[data-testid=stApp][data-test-script-state=notRunning]");
    if (newer && made && !busy()) newer.click();
  }, 500);
})();
