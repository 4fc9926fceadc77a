// Runs inside the page under test and returns a list of faults as plain sentences.
// Given: {target: smallest side of a target in CSS px}
(options) => {
  "use strict";
  const faults = [];

  const shown = (el) => el.checkVisibility({ visibilityProperty: true, contentVisibilityAuto: true });
  const name = (el) => {
    const words = (el.textContent || el.value || el.getAttribute("name") || "").trim().replace(/\s+/g, " ");
    const id = el.id ? `#${el.id}` : "";
    return `<${el.localName}${id}> "${words.slice(0, 40)}"`;
  };

  // ---- the document -------------------------------------------------------------------------------------
  const root = document.documentElement;
  if (!root.lang.trim()) faults.push("document: no lang");
  if (!document.title.trim()) faults.push("document: no title");
  const headings = [...document.querySelectorAll("h1")].filter(shown);
  if (headings.length !== 1) faults.push(`document: ${headings.length} h1, one is wanted`);
  if (root.scrollWidth > root.clientWidth) {
    const wide = [...document.body.querySelectorAll("*")]
      .filter((el) => shown(el) && el.getBoundingClientRect().right > root.clientWidth + 0.5)
      .slice(-3).map(name).join(", ");
    faults.push(`overflow: ${root.scrollWidth} px wide in ${root.clientWidth} px: ${wide}`);
  }
  const ids = new Map();
  for (const el of document.querySelectorAll("[id]")) ids.set(el.id, (ids.get(el.id) || 0) + 1);
  for (const [id, count] of ids) if (count > 1) faults.push(`document: id ${id} stands ${count} times`);

  // ---- labels -------------------------------------------------------------------------------------------
  const byIds = (el, attribute) => (el.getAttribute(attribute) || "").split(/\s+/)
    .map((id) => (id && document.getElementById(id)?.textContent) || "").join(" ");
  const pictured = (el) => [...el.querySelectorAll("img[alt], svg[aria-label], svg > title")]
    .map((i) => i.getAttribute("alt") || i.getAttribute("aria-label") || i.textContent).join(" ");
  const accessibleName = (el) => [
    el.getAttribute("aria-label"), byIds(el, "aria-labelledby"), el.getAttribute("title"),
    ...[...(el.labels || [])].map((l) => l.textContent),
    ["a", "button", "summary"].includes(el.localName) ? `${el.textContent} ${pictured(el)}` : "",
    el.localName === "input" && ["submit", "reset", "button"].includes(el.type) ? el.value : "",
  ].join(" ").trim();
  const controls = [...document.querySelectorAll(
    "a[href], button, input:not([type=hidden]), select, textarea, summary, [role=button]")];
  for (const el of controls) {
    if (shown(el) && !accessibleName(el)) faults.push(`label: ${name(el)} has no name`);
  }
  for (const el of document.querySelectorAll("img:not([alt])")) faults.push(`label: ${name(el)} has no alt`);

  // ---- targets under a coarse pointer -------------------------------------------------------------------
  const inSentence = (el) => {
    // WCAG 2.5.8, exception "inline": the link stands in a sentence or a line of other text.
    if (el.localName !== "a" || !getComputedStyle(el).display.startsWith("inline")) return false;
    const block = el.closest("p, li, dd, dt, td, th, figcaption, caption, blockquote, label, legend, h1, h2, h3, h4");
    const clean = (s) => s.replace(/\s+/g, "");
    if (!block) return false;
    const links = [...block.querySelectorAll("a")].map((a) => clean(a.textContent)).join("");
    return clean(block.textContent).length > links.length;
  };
  const clipped = (el) => {
    const style = getComputedStyle(el), box = el.getBoundingClientRect();
    return (box.width <= 1 && box.height <= 1) || style.opacity === "0" || style.clipPath === "inset(50%)";
  };
  const aside = (box) => box.right + scrollX <= 0 || box.bottom + scrollY <= 0;
  const large = (el) => {
    const box = el.getBoundingClientRect();
    return box.width >= options.target - 0.5 && box.height >= options.target - 0.5;
  };
  if (matchMedia("(pointer: coarse)").matches) {
    for (const el of controls) {
      const box = el.getBoundingClientRect();
      const labels = [...(el.labels || [])].filter(shown);
      // A label that holds or names a control is part of its target.
      const around = ["checkbox", "radio", "file"].includes(el.type) ? labels : [];
      if (!shown(el) || aside(box) || inSentence(el) || around.some(large)) continue;
      if (clipped(el) && around.length === 0 && el.localName === "a") continue; // shows when focused
      // The button that Enter presses: nobody can see it, point at it, or reach it by Tab or by reading.
      if (clipped(el) && el.tabIndex < 0 && el.getAttribute("aria-hidden") === "true") continue;
      if (!large(el)) {
        faults.push(`target: ${name(el)} is ${Math.round(box.width)} x ${Math.round(box.height)} px`);
      }
    }
  }

  // ---- contrast -----------------------------------------------------------------------------------------
  const brush = Object.assign(document.createElement("canvas"), { width: 1, height: 1 })
    .getContext("2d", { willReadFrequently: true });
  const seen = new Map();
  const colour = (text) => {                       // any CSS colour as [r, g, b, alpha 0..1]
    if (!seen.has(text)) {
      const plain = /^rgba?\(([\d.]+), ([\d.]+), ([\d.]+)(?:, ([\d.]+))?\)$/.exec(text);
      if (plain) seen.set(text, [+plain[1], +plain[2], +plain[3], plain[4] === undefined ? 1 : +plain[4]]);
      else {
        brush.clearRect(0, 0, 1, 1);
        brush.fillStyle = text;
        brush.fillRect(0, 0, 1, 1);
        const [r, g, b, a] = brush.getImageData(0, 0, 1, 1).data;
        seen.set(text, [r, g, b, a / 255]);
      }
    }
    return seen.get(text);
  };
  const over = (top, below) => {
    const a = top[3] + below[3] * (1 - top[3]);
    if (a === 0) return [0, 0, 0, 0];
    return [0, 1, 2].map((i) => (top[i] * top[3] + below[i] * below[3] * (1 - top[3])) / a).concat(a);
  };
  // WCAG 2.2, "relative luminance" and "contrast ratio".
  const luminance = (c) => {
    const [r, g, b] = c.map((v) => v / 255).map((v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4));
    return 0.2126 * r + 0.7152 * g + 0.0722 * b;
  };
  const ratio = (a, b) => {
    const [light, dark] = [luminance(a), luminance(b)].sort((x, y) => y - x);
    return (light + 0.05) / (dark + 0.05);
  };
  const canvasColour = () => {                     // what shows where nobody painted
    const probe = document.createElement("div");
    probe.style.backgroundColor = "Canvas";        // set by script: a page's policy has nothing against it
    document.body.append(probe);
    const found = colour(getComputedStyle(probe).backgroundColor);
    probe.remove();
    return found;
  };
  const canvas = canvasColour();
  const behind = (el) => {
    let found = [0, 0, 0, 0], picture = false;
    for (let at = el; at && found[3] < 0.999; at = at.parentElement) {
      const style = getComputedStyle(at);
      const drawn = style.backgroundImage !== "none";
      if (drawn && !["select", "input"].includes(at.localName)) picture = true;
      found = over(found, colour(style.backgroundColor));
    }
    return { colour: over(found, canvas), picture };
  };
  const opacity = (el) => {
    let product = 1;
    for (let at = el; at; at = at.parentElement) product *= +getComputedStyle(at).opacity;
    return product;
  };
  const judge = (el, style, what, ink) => {
    const back = behind(el);
    if (back.picture) return faults.push(`contrast: ${what} stands on a picture, which cannot be judged`);
    const [r, g, b, a] = colour(ink);
    const text = over([r, g, b, a * opacity(el)], back.colour);
    const size = parseFloat(style.fontSize), bold = +style.fontWeight >= 700;
    const need = size >= 24 || (size >= 18.66 && bold) ? 3 : 4.5;
    const got = ratio(text, back.colour);
    if (got < need) faults.push(`contrast: ${what} has ${got.toFixed(2)}:1, needs ${need}:1`);
    return undefined;
  };
  const invisible = (el) => !shown(el) || clipped(el) || aside(el.getBoundingClientRect());
  const words = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  const judged = new Set();
  for (let node = words.nextNode(); node; node = words.nextNode()) {
    const el = node.parentElement;
    if (!node.data.trim() || judged.has(el) || invisible(el)) continue;
    if (["script", "style", "noscript", "template", "option", "title", "desc"].includes(el.localName)) continue;
    if (el.closest(":disabled, [aria-disabled=true]")) continue;   // WCAG 1.4.3: an inactive control
    judged.add(el);
    const style = getComputedStyle(el);
    judge(el, style, name(el), el instanceof SVGElement ? style.fill : style.color);
    for (const part of ["::before", "::after"]) {
      const drawn = getComputedStyle(el, part);
      if (/^"[^"]*[\p{L}\p{N}]/u.test(drawn.content)) judge(el, drawn, `${name(el)}${part}`, drawn.color);
    }
  }
  for (const el of document.querySelectorAll("input:not([type=hidden]), select, textarea")) {
    if (invisible(el) || el.disabled || ["checkbox", "radio", "range", "color"].includes(el.type)) continue;
    const style = getComputedStyle(el);
    judge(el, style, name(el), style.color);
    const hint = getComputedStyle(el, "::placeholder");
    if (el.placeholder) judge(el, hint, `placeholder of ${name(el)}`, hint.color);
  }
  return faults;
}
