// Follows our own links without loading the page anew: what is typed stays, open folds stay open, and so does the place
// one has scrolled to. It does what the browser's Back button does: another address, and word of it to Streamlit, which
// takes from it all that is bound to it. A click that asks for a tab or a window of its own is left to the browser.
(() => {
  if (window.kerfledgerFollow) return;
  const main = () => document.querySelector("[data-testid=stMain]");
  const alike = href => [...document.querySelectorAll(".stHtml a[href]")].filter(a => a.getAttribute("href") === href);

  // where one stood: how far down, and at which link, how far below the window's top
  const place = (href, link) => ({
    top: main().scrollTop,
    ...(link && { href, nth: alike(href).indexOf(link), below: link.getBoundingClientRect().top }),
  });

  // a fold that a link opens stands at the top, for as long as what is drawn in it still makes the page longer
  const bringIntoView = fold => {
    const until = Date.now() + 30000;
    let still = 0;
    const stop = () => clearInterval(look);
    const look = setInterval(() => {
      const open = document.querySelector(`.st-key-${CSS.escape(fold)} details[open]`);
      const before = main().scrollTop;
      if (open) open.scrollIntoView({ block: "start" });
      const made = open && document.querySelector("[data-testid=stApp][data-test-script-state=notRunning]");
      still = made && Math.abs(main().scrollTop - before) < 1 ? still + 1 : 0;
      if (Date.now() > until || still > 15) stop();
    }, 100);
    for (const moved of ["wheel", "touchstart", "keydown", "mousedown"]) addEventListener(moved, stop, { once: true });
  };

  window.kerfledgerFollow = (href, link) => {
    const there = new URL(href, location.href);
    const sets = [...there.searchParams].pop();
    if (sets && there.pathname === location.pathname) {
      // what was chosen since the link was drawn stays chosen; the last part is what the link itself sets
      const chosen = new URLSearchParams(location.search);
      chosen.set(...sets);
      there.search = chosen;
    }
    history.replaceState({ ...history.state, ...place(href, link) }, "");
    const fold = there.hash.slice(1);
    there.hash = "";
    history.pushState({}, "", there);
    if (fold) bringIntoView(fold);
    // a page opened anew is read from its top; what opens on the same page is beside its link
    if (!href.startsWith("?")) main().scrollTop = 0;
    dispatchEvent(new PopStateEvent("popstate", { state: {} }));
  };

  document.addEventListener("click", event => {
    const link = event.target.closest?.(".stHtml a[href]");
    const elsewhere = event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey;
    if (!link || event.defaultPrevented || elsewhere || link.origin !== location.origin) return;
    if (link.getAttribute("href").startsWith("#")) return; // to a part of this page: the browser knows how
    event.preventDefault();
    answered(() => window.kerfledgerFollow(link.getAttribute("href"), link));
  });

  // what stood half typed in a field is sent as the field is left, and its answer names the page that it was sent from:
  // were the address another one by then, it would lead back. So a link waits for that answer. A field that stands in
  // the address changes it as it is sent, and the server says of each run which address it went by; of any other field
  // a run tells that it may be answered, no more, since parts of a page run every few seconds.
  const MOST_MS = 8000;
  let before, typed, waiting;
  let sent = { at: -Infinity };
  const value = field => (field.type === "number" && field.value ? Number(field.value) : field.value);
  const changed = field => value(field) !== before && field.validity?.valid;
  const sends = field => changed(field) && field.role !== "combobox" && !field.closest("[data-testid=stForm]");
  const sending = field => {
    sent = { at: performance.now(), sure: sends(field), address: location.search };
    [before, typed] = [value(field), null];
  };
  addEventListener("focusin", event => {
    if ("value" in event.target) before = value(event.target);
  }, true);
  addEventListener("input", event => event.isTrusted && (typed = event.target), true);
  addEventListener("keydown", event => event.key === "Enter" && event.target === typed && sending(typed), true);
  addEventListener("focusout", event => event.target === typed && sending(typed), true);
  const idle = () => document.querySelector("[data-testid=stApp][data-test-script-state=notRunning]");
  new MutationObserver(() => {
    if (!idle()) sent.worked = true;
  }).observe(document, { subtree: true, attributeFilter: ["data-test-script-state"] });
  const sorted = address => [...new URLSearchParams(address)].map(String).sort().join("&");
  const heard = () => {
    const given = document.querySelector(".st-key-scripts [data-heard]")?.dataset.heard;
    return given !== undefined && sorted(given) === sorted(location.search);
  };
  const unheard = () =>
    sent.sure && performance.now() < sent.at + MOST_MS && (location.search === sent.address || !heard());
  // newer figures drawn meanwhile would be drawn by the address as it was, too
  window.kerfledgerSending = () =>
    !!waiting || unheard() || (typed && typed === document.activeElement && changed(typed));
  const answered = go => {
    clearInterval(waiting);
    waiting = null;
    if (performance.now() > sent.at + (sent.sure ? MOST_MS : 2000)) return go();
    let still = 0;
    // how many looks the page must rest
    const rest = () => (unheard() ? Infinity : sent.sure || sent.worked ? 4 : 30);
    waiting = setInterval(() => {
      still = idle() ? still + 1 : 0;
      if (still < rest() && performance.now() < sent.at + MOST_MS) return;
      clearInterval(waiting);
      waiting = null;
      sent = { at: -Infinity };
      go();
    }, 50);
  };

  // a box of numbers holds the wheel, so that it changes no number: it lets go instead, and the page scrolls on
  document.addEventListener("wheel", event => {
    const box = event.target.closest?.("input[type=number]");
    if (!box) return;
    event.stopPropagation();
    box.blur();
  }, { capture: true, passive: true });

  // back on a page that was left by a link: the row it was left at stands where it stood, as soon as it is there again, and
  // for as long as what comes in above still moves it
  addEventListener("popstate", event => {
    const { top, href, nth, below } = event.state ?? {};
    if (!top) return;
    const until = Date.now() + 30000;
    let still = 0;
    const stop = () => clearInterval(look);
    const look = setInterval(() => {
      const page = main();
      const before = page.scrollTop;
      if (Date.now() > until || still > 15) return stop();
      const link = href && alike(href)[nth];
      if (link) page.scrollTop += link.getBoundingClientRect().top - below;
      else if (!href) page.scrollTop = top;
      // the page that one comes from may stand here until the other is made
      const made = document.querySelector("[data-testid=stApp][data-test-script-state=notRunning]");
      still = made && Math.abs(page.scrollTop - before) < 1 ? still + 1 : 0;
    }, 100);
    for (const moved of ["wheel", "touchstart", "keydown", "mousedown"]) addEventListener(moved, stop, { once: true });
  });
})();
