// A page in a browser without a window, driven over its debugging protocol.
import { spawn } from "node:child_process";
import { existsSync, mkdtempSync, readFileSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

if (typeof WebSocket === "undefined") {
  throw new Error("this node has its WebSocket behind a switch: node --experimental-websocket ...");
}

const pause = (ms) => new Promise((kept) => setTimeout(kept, ms));

// Opens an address; `evaluate` runs an expression there (a promise is waited for), `go` opens another one, `faults` collects what the page complains of,
// `requests` what it fetched.
export async function opened(address, { width = 800, height = 900 } = {}) {
  const home = mkdtempSync(join(tmpdir(), "page-"));
  const flags = ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run"];
  const browser = spawn(
    process.env.CHROMIUM ?? "chromium",
    [...flags, "--remote-debugging-port=0", `--user-data-dir=${home}`, `--window-size=${width},${height}`, "about:blank"],
    { stdio: "ignore" },
  );
  const port = join(home, "DevToolsActivePort");
  for (let waited = 0; !existsSync(port) || !readFileSync(port, "utf8").includes("\n"); waited += 50) {
    if (waited > 60_000) throw new Error("the browser does not start");
    await pause(50);
  }
  const host = `127.0.0.1:${readFileSync(port, "utf8").split("\n")[0]}`;
  const tabs = await (await fetch(`http://${host}/json/list`)).json();
  const socket = new WebSocket(tabs.find((tab) => tab.type === "page").webSocketDebuggerUrl);
  await new Promise((kept, failed) => {
    socket.onopen = kept;
    socket.onerror = failed;
  });
  const waiting = new Map();
  const [faults, requests] = [[], []];
  let [number, loaded] = [0, null];
  socket.onmessage = ({ data }) => {
    const { id, method, params, result, error } = JSON.parse(data);
    if (id) {
      const { kept, failed } = waiting.get(id);
      waiting.delete(id);
      if (error) failed(new Error(error.message));
      else kept(result);
    } else if (method === "Runtime.exceptionThrown") {
      faults.push(params.exceptionDetails.exception?.description ?? params.exceptionDetails.text);
    } else if (method === "Runtime.consoleAPICalled" && ["error", "warning", "assert"].includes(params.type)) {
      faults.push(params.args.map((one) => one.value ?? one.description).join(" "));
    } else if (method === "Log.entryAdded" && params.entry.level === "error") {
      faults.push(params.entry.text);
    } else if (method === "Network.requestWillBeSent") {
      requests.push(params.request.url);
    } else if (method === "Page.loadEventFired") {
      loaded?.();
    }
  };
  const send = (method, params = {}) =>
    new Promise((kept, failed) => {
      number += 1;
      waiting.set(number, { kept, failed });
      socket.send(JSON.stringify({ id: number, method, params }));
    });
  for (const domain of ["Runtime", "Log", "Network", "Page"]) await send(`${domain}.enable`);
  const go = async (to) => {
    const done = new Promise((kept) => (loaded = kept));
    await send("Page.navigate", { url: to });
    await done;
  };
  await go(address);
  return {
    send,
    go,
    faults,
    requests,
    evaluate: async (expression) => {
      const { result, exceptionDetails } = await send("Runtime.evaluate", {
        expression,
        awaitPromise: true,
        returnByValue: true,
      });
      if (exceptionDetails) throw new Error(exceptionDetails.exception?.description ?? exceptionDetails.text);
      return result.value;
    },
    close: async () => {
      const ended = new Promise((kept) => browser.once("exit", kept));
      await send("Browser.close").catch(() => {});
      socket.close();
      await Promise.race([ended, pause(5000)]);
      browser.kill();
      rmSync(home, { recursive: true, force: true, maxRetries: 5 });
    },
  };
}
