// What a page in a browser looks like, as expressions that run there.

// What is cut off, and what lies over something else.
export const LAYOUT = `(() => {
  const found = [];
  const wide = document.documentElement.clientWidth;
  if (document.documentElement.scrollWidth > wide) found.push("the page is wider than the screen: " + document.documentElement.scrollWidth);
  const seen = (one) => one.checkVisibility({ checkVisibilityCSS: true }) && one.getBoundingClientRect().width > 1 && !one.closest(".unseen, .skip, #short");
  const name = (one) => one.id || one.className?.baseVal || one.className || one.tagName;
  const boxes = [...document.querySelectorAll("#sheet label, #sheet input, #sheet select, #sheet button, #sheet h1, #sheet h2, #sheet h3, #sheet p, #sheet legend, #sheet summary, #sheet li, #sheet svg")].filter(seen);
  for (const one of boxes) {
    const { left, right } = one.getBoundingClientRect();
    const frame = one.closest(".frame, .editor");
    if (!frame && (left < -0.5 || right > wide + 0.5)) found.push(name(one) + " goes from " + Math.round(left) + " to " + Math.round(right));
    if (["BUTTON", "LABEL", "H1", "H2", "H3", "SUMMARY", "LEGEND"].includes(one.tagName) && one.scrollWidth > one.clientWidth + 2 && one.clientWidth > 0) found.push(name(one) + " is cut off");
  }
  for (const frame of document.querySelectorAll(".frame")) {
    const { right } = frame.getBoundingClientRect();
    if (right > wide + 0.5) found.push("a table's frame is wider than the screen");
    if (frame.scrollWidth > frame.clientWidth + 2 && getComputedStyle(frame).backgroundImage === "none") found.push("a table scrolls and does not say so");
  }
  const hands = boxes.filter((one) => ["INPUT", "SELECT", "BUTTON"].includes(one.tagName));
  hands.forEach((one, k) => {
    const a = one.getBoundingClientRect();
    for (const other of hands.slice(k + 1)) {
      const b = other.getBoundingClientRect();
      if (Math.min(a.right, b.right) - Math.max(a.left, b.left) > 1 && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 1) found.push(name(one) + " lies over " + name(other));
    }
  });
  return found;
})()`;

// Contrast of text against what is behind it: WCAG 2.2, relative luminance and 4.5 to 1.
export const CONTRAST = `(() => {
  const found = new Set();
  const parts = (text) => { const all = (text.match(/[\\d.]+/g) ?? []).map(Number); const share = text.startsWith("color(srgb") ? 255 : 1; return [all[0] * share, all[1] * share, all[2] * share, all[3] ?? 1]; };
  const over = ([r, g, b, a], below) => [r, g, b].map((one, k) => one * a + below[k] * (1 - a)).concat(1);
  const behind = (one) => {
    const layers = [];
    for (let up = one; up; up = up.parentElement) layers.push(parts(getComputedStyle(up).backgroundColor));
    return layers.reverse().reduce((below, layer) => over(layer, below), [255, 255, 255, 1]);
  };
  const light = ([r, g, b]) => [r, g, b].map((one) => one / 255).map((one) => (one <= 0.04045 ? one / 12.92 : ((one + 0.055) / 1.055) ** 2.4)).reduce((sum, one, k) => sum + one * [0.2126, 0.7152, 0.0722][k], 0);
  for (const one of document.querySelectorAll("#sheet *")) {
    if (![...one.childNodes].some((child) => child.nodeType === 3 && child.textContent.trim()) || !one.checkVisibility() || one.closest("svg, option, .unseen") || one.disabled) continue;
    const below = behind(one);
    const [a, b] = [light(over(parts(getComputedStyle(one).color), below)), light(below)].sort((x, y) => y - x);
    const ratio = (a + 0.05) / (b + 0.05);
    if (ratio < 4.5) found.add((one.id || one.className || one.tagName) + " " + ratio.toFixed(2));
  }
  return [...found];
})()`;
