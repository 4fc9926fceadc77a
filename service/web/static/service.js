"use strict";
// Comfort only: every page works without it.
(() => {
  const all = (selector, root = document) => Array.from(root.querySelectorAll(selector));
  const HOURS_KEPT = 2 * 3600 * 1000;

  // The error summary takes the focus, so that a screen reader starts there.
  const summary = document.getElementById("summary");
  if (summary) summary.focus();

  // A scanned address ends in /C/CODE; keep the code, in capitals.
  const bare = (text) => {
    const found = text.trim().match(/(?:^|[/\-:])c[/\-]([0-9a-z ]{4,12})$/i);
    return (found ? found[1] : text.trim()).toUpperCase();
  };
  const scan = document.querySelector("[data-scan-form] [data-scan]");
  all("form").forEach((form) => form.addEventListener("submit", () => {
    all("[data-scan]", form).forEach((box) => { box.value = bare(box.value); });
  }));
  if (scan && matchMedia("(pointer: fine)").matches && !summary && !location.hash) {
    scan.focus({ preventScroll: true });
  }
  document.addEventListener("keydown", (event) => {
    const at = document.activeElement;
    const plain = event.key.length === 1 && event.key !== " " && !event.ctrlKey && !event.metaKey && !event.altKey;
    if (scan && plain && (!at || at === document.body || at.id === "main")) scan.focus();
    // In a form of several fields a scanner's Enter goes on to the next field instead of sending it half filled.
    if (event.key === "Enter" && at && at.matches("form:not([data-scan-form]) input[data-scan]")) {
      const fields = all("input:not([type=hidden]), select, textarea, button[type=submit]", at.form);
      const next = fields[fields.indexOf(at) + 1];
      if (next && next.type !== "submit") { event.preventDefault(); at.value = bare(at.value); next.focus(); }
    }
  });

  // Buttons that fill a field ("Today"): shown only here, where they work.
  all("[data-fill]").forEach((button) => {
    button.hidden = false;
    button.addEventListener("click", () => {
      const field = document.getElementById(button.dataset.fill);
      field.value = button.dataset.value;
      field.dispatchEvent(new Event("input", { bubbles: true }));
      field.focus();
    });
  });

  // One press is enough. The server knows a second one by its key; this only says so.
  const resting = [];
  all("form[method=post]").forEach((form) => form.addEventListener("submit", (event) => {
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "yes";
    setTimeout(() => {
      all("button[type=submit]", form).forEach((button) => {
        resting.push([form, button, button.textContent]);
        button.disabled = true;
        if (button === event.submitter && button.dataset.busy) button.textContent = button.dataset.busy;
      });
    }, 0);
  }));
  addEventListener("pageshow", (event) => {
    if (!event.persisted) return;
    resting.splice(0).forEach(([form, button, words]) => {
      delete form.dataset.sent;
      button.disabled = false;
      button.textContent = words;
    });
  });

  // Drafts: what was typed survives a lost network, until the server says that it is saved.
  const store = {
    get: (key) => { try { return JSON.parse(sessionStorage.getItem(key)); } catch { return null; } },
    set: (key, value) => { try { sessionStorage.setItem(key, JSON.stringify(value)); } catch { /* full */ } },
    drop: (key) => { try { sessionStorage.removeItem(key); } catch { /* closed */ } },
  };
  if (document.querySelector("[data-saved]")) {
    const sent = store.get("sent");
    if (sent) store.drop(sent);
    store.drop("sent");
  }
  const kept = (field) => field.name && field.name !== "once"
    && !["hidden", "password", "file", "submit", "button"].includes(field.type);
  all("form[data-draft]").forEach((form) => {
    const key = `draft ${location.pathname}${location.search} ${form.getAttribute("action") || ""}`;
    const fields = () => Array.from(form.elements).filter(kept);
    const old = store.get(key);
    // An answer to a post has what was sent in it already, and readings that were tapped: nothing is put over it.
    const answered = summary || document.querySelector("[data-answer]");
    if (old && Date.now() - old.at < HOURS_KEPT && !answered) restore(form, fields(), old.values, key);
    form.addEventListener("input", () => {
      const values = fields().map((f) => [f.name, f.type === "checkbox" || f.type === "radio" ? f.checked : f.value, f.id]);
      store.set(key, { at: Date.now(), values });
    });
    form.addEventListener("submit", () => store.set("sent", key));
  });
  function restore(form, fields, values, key) {
    const before = fields.map((f) => [f, f.checked, f.value]);
    let changed = false;
    values.forEach(([name, value, id]) => {
      const field = fields.find((f) => f.name === name && f.id === id);
      if (!field) return;
      if (typeof value === "boolean") { changed = changed || field.checked !== value; field.checked = value; }
      else { changed = changed || field.value !== value; field.value = value; }
    });
    if (!changed) return;
    const line = document.createElement("div");
    line.className = "draft-line";
    line.setAttribute("role", "status");
    const words = document.createElement("p");
    words.textContent = "What you typed here before, and did not save, is filled in. Check it.";
    const clear = document.createElement("button");
    clear.type = "button";
    clear.className = "second";
    clear.textContent = "Clear it";
    clear.addEventListener("click", () => {
      before.forEach(([f, checked, value]) => { f.checked = checked; if (f.type !== "checkbox" && f.type !== "radio") f.value = value; });
      store.drop(key);
      line.remove();
    });
    line.append(words, clear);
    form.prepend(line);
  }

  // On a phone the parts of a long page are folded until one is asked for; on paper all of them stand open.
  const parts = all("details[data-folds]");
  const asked = () => { const part = parts.find((p) => `#${p.id}` === location.hash); if (part) part.open = true; };
  if (parts.length) {
    if (matchMedia("(max-width: 700px)").matches) parts.forEach((p) => { p.open = false; });
    let before = [];
    addEventListener("beforeprint", () => { before = parts.map((p) => p.open); parts.forEach((p) => { p.open = true; }); });
    addEventListener("afterprint", () => parts.forEach((p, at) => { p.open = before[at]; }));
    addEventListener("hashchange", asked);
    asked();
  }

  // Minutes left for the rags, counted down in the header.
  const span = (n) => {
    const h = Math.floor(Math.abs(n) / 60), m = Math.abs(n) % 60;
    return [h && `${h}\u00a0h`, (m || !h) && `${m}\u00a0min`].filter(Boolean).join("\u00a0");
  };
  const opened = Date.now();
  const tick = () => all("[data-minutes]").forEach((place) => {
    const n = Number(place.dataset.minutes) - Math.floor((Date.now() - opened) / 60000);
    place.textContent = n >= 0 ? `${span(n)} left` : `overdue ${span(n)}`;
    if (n < 0) place.closest(".rag-notice").classList.add("late");
  });
  setInterval(tick, 20000);
})();
