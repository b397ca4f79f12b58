// What both pages of the shop floor need: asking the computer, and what this browser keeps until it is written there.
"use strict";
const floor = (() => {
  const PATIENCE_MS = 15000, PAGE = "floor", PARTS = ["/", "/keep.js", "/floor.js", "/floor.css"];

  async function ask(path, body) {
    const patience = new AbortController();
    const ends = setTimeout(() => patience.abort(), PATIENCE_MS);
    try {
      const sent = body === undefined ? {} : { method: "POST", body: JSON.stringify(body), headers: { "content-type": "application/json" } };
      const answer = await fetch(path, { ...sent, signal: patience.signal, cache: "no-store", redirect: "error" });
      const text = await answer.text();
      return { status: answer.status, told: text ? JSON.parse(text) : {} };
    } catch {
      return { status: 0, told: {} };
    } finally {
      clearTimeout(ends);
    }
  }

  // by name; what the browser has no room for, or doesn't keep at all, is kept as long as the page is open
  const memory = {}, unkept = new Set();
  const store = {
    get(name, otherwise) {
      if (unkept.has(name)) return memory[name];
      try {
        const text = localStorage.getItem(`kerfledger-${name}`);
        return text === null ? otherwise : JSON.parse(text);
      } catch {
        return memory[name] ?? otherwise;
      }
    },
    put(name, value) {
      memory[name] = value;
      unkept.delete(name);
      if (!set(name, value) && !(forget("now") && set(name, value))) unkept.add(name); // what the computer tells anyhow gives way
    },
    keeps: (name) => !unkept.has(name),
  };
  function set(name, value) {
    try {
      localStorage.setItem(`kerfledger-${name}`, JSON.stringify(value));
      return true;
    } catch {
      return false;
    }
  }
  function forget(name) {
    try {
      localStorage.removeItem(`kerfledger-${name}`);
      return true;
    } catch {
      return false;
    }
  }

  // Keep the page itself, to open it again without the connection. A browser that doesn't trust the certificate refuses.
  async function keepPage() {
    try {
      await navigator.serviceWorker.register("/worker.js");
      await (await caches.open(PAGE)).addAll(PARTS);
      return true;
    } catch {
      return false;
    }
  }
  // a device that is no longer paired keeps nothing of the shop; what was typed on it, it keeps
  async function forgetShop() {
    delete memory.now;
    unkept.delete("now");
    forget("now");
    try {
      await caches.delete(PAGE);
    } catch {
      // there was none
    }
  }

  return { ask, store, keepPage, forgetShop };
})();
