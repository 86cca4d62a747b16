// A tab with a person's hands, for walks through the built page.
import { readFileSync, writeFileSync } from "node:fs";
import { basename, join } from "node:path";

import { opened } from "./browser.mjs";

export const pause = (ms) => new Promise((kept) => setTimeout(kept, ms));

// They see and touch what is on the screen. `folder` takes what is saved, `shots` pictures.
export async function visitor(at, { width = 360, height = 800, online = false, folder, shots } = {}) {
  const tab = await opened("about:blank", { width, height });
  const say = (value) => JSON.stringify(value);
  const cutOff = () => tab.send("Network.emulateNetworkConditions", { offline: true, latency: 0, downloadThroughput: 0, uploadThroughput: 0 });
  if (!online) await cutOff();
  await tab.send("Browser.setDownloadBehavior", { behavior: "allow", downloadPath: folder });
  const person = {
    ...tab,
    size: (wide, high = 800) => tab.send("Emulation.setDeviceMetricsOverride", { width: wide, height: high, deviceScaleFactor: 1, mobile: wide < 600 }),
    until: async (expression, what, ms = 60_000) => {
      const began = performance.now();
      while (!(await tab.evaluate(expression))) {
        if (performance.now() - began > ms) throw new Error(`waited in vain for ${what}: ${await tab.evaluate("document.getElementById('answer-state')?.textContent")}`);
        await pause(40);
      }
    },
    click: async (selector) => {
      const found = `document.querySelector(${say(selector)})`;
      await tab.evaluate(`${found}.scrollIntoView({ block: "center", behavior: "instant" })`);
      const box = await tab.evaluate(`(() => { const { x, y, width, height } = ${found}.getBoundingClientRect(); return { x: x + width / 2, y: y + height / 2 }; })()`);
      for (const type of ["mousePressed", "mouseReleased"]) {
        await tab.send("Input.dispatchMouseEvent", { type, ...box, button: "left", clickCount: 1 });
      }
    },
    // Clears the field and writes into it.
    write: async (selector, words) => {
      await person.click(selector);
      await tab.evaluate("document.activeElement.select?.()");
      await person.key("Backspace", 8);
      if (words !== "") await tab.send("Input.insertText", { text: words });
    },
    key: async (key, code = 0, modifiers = 0) => {
      for (const type of ["rawKeyDown", ...(key === "Enter" ? ["char"] : []), "keyUp"]) {
        await tab.send("Input.dispatchKeyEvent", { type, key, code: key, windowsVirtualKeyCode: code, modifiers, ...(type === "char" ? { text: "\r" } : {}) });
      }
    },
    // A list is opened by the system; choosing from it fires its events.
    choose: (selector, value) => tab.evaluate(`(() => { const list = document.querySelector(${say(selector)}); list.value = ${say(value)}; if (list.value !== ${say(value)}) throw new Error("no " + ${say(value)}); list.dispatchEvent(new Event("change")); })()`),
    // Lets files fall on the page, as a hand does that drags them there.
    drop: (...paths) => {
      const files = paths.map((path) => [basename(path), readFileSync(path).toString("base64")]);
      return tab.evaluate(`(() => {
        const data = new DataTransfer();
        for (const [name, letters] of ${JSON.stringify(files)}) data.items.add(new File([Uint8Array.from(atob(letters), (one) => one.charCodeAt(0))], name));
        const event = (kind) => new DragEvent(kind, { dataTransfer: data, bubbles: true, cancelable: true });
        const welcome = !document.body.dispatchEvent(event("dragover"));
        document.body.dispatchEvent(event("drop"));
        return welcome;
      })()`);
    },
    shot: async (name) => {
      if (!shots) return;
      const { data } = await tab.send("Page.captureScreenshot", { format: "png" });
      writeFileSync(join(shots, `${name}.png`), Buffer.from(data, "base64"));
    },
    text: (selector) => tab.evaluate(`document.querySelector(${say(selector)})?.textContent ?? null`),
    value: (selector) => tab.evaluate(`document.querySelector(${say(selector)})?.value ?? null`),
    // The answer to what stands there now, from all outages.
    answered: () => person.until('!document.getElementById("answer").classList.contains("old") && document.getElementById("answer-state").textContent.startsWith("From 10,000")', "the whole answer"),
    // Any answer to it.
    first: () => person.until('!document.getElementById("answer").classList.contains("old") && /^(First|From)/.test(document.getElementById("answer-state").textContent)', "an answer"),
    json: () => tab.evaluate("Sheet.answers.shown.json"),
  };
  await person.size(width, height);
  await person.go(at);
  if (online) await cutOff();
  return person;
}

export const field = (path) => `[id="field-${path}"]`;
export const messages = (path) => `[id="messages-${path}"]`;
