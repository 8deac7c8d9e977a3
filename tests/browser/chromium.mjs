// A headless Chromium, driven over a pair of pipes in the DevTools protocol: JSON messages that end with a zero byte.
// Source of the messages used: the protocol's own documentation (domains Target, Page, Network, Runtime, Log, Emulation).

import { spawn } from "node:child_process";
import { mkdtempSync, rmSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";

const LONGEST_ANSWER_MS = 600_000;

const SWITCHES = [
  "--headless", "--remote-debugging-pipe", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
  "--disable-background-networking", "--disable-component-update", "--disable-sync", "--disable-extensions",
  "--disable-dev-shm-usage", "--hide-scrollbars", "--force-color-profile=srgb",
];

/** Starts a browser with a profile of its own, does the work, and ends the browser whatever happens. */
export async function withBrowser(work) {
  const profile = mkdtempSync(join(tmpdir(), "page-checks-"));
  const process_ = spawn("chromium", [...SWITCHES, `--user-data-dir=${profile}`], {
    stdio: ["ignore", "ignore", "ignore", "pipe", "pipe"],
  });
  const ended = new Promise((resolve) => process_.once("exit", resolve));
  const connection = connect(process_);
  try {
    return await work({ openPage: (url, options) => openPage(connection, url, options) });
  } finally {
    await connection.send("Browser.close").catch(() => process_.kill());
    await ended;
    removeProfile(profile);
  }
}

/** The browser's own helpers may still write for a moment; what then stays behind is a temporary folder, no fault. */
function removeProfile(profile) {
  try {
    rmSync(profile, { recursive: true, force: true, maxRetries: 10, retryDelay: 200 });
  } catch (error) {
    console.error(`a temporary folder stays behind: ${error.code}`);
  }
}

/** Requests and answers by number; events go to whoever listens to their session. */
function connect(process_) {
  const [toBrowser, fromBrowser] = [process_.stdio[3], process_.stdio[4]];
  const waiting = new Map();
  const listeners = new Map();
  let last = 0;
  let unread = "";
  const fail = (why) => {
    for (const { reject } of waiting.values()) reject(new Error(why));
    waiting.clear();
  };
  process_.once("error", (error) => fail(`Chromium did not start: ${error.message}`));
  process_.once("exit", () => fail("Chromium ended early"));
  toBrowser.on("error", (error) => fail(error.message));
  fromBrowser.setEncoding("utf8");
  fromBrowser.on("data", (text) => {
    const messages = (unread + text).split("\0");
    unread = messages.pop();
    for (const message of messages) receive(JSON.parse(message));
  });
  function receive(message) {
    if (message.id === undefined) {
      listeners.get(message.sessionId)?.(message.method, message.params);
      return;
    }
    const { resolve, reject, method } = waiting.get(message.id) ?? {};
    waiting.delete(message.id);
    if (message.error) reject?.(new Error(`${method}: ${message.error.message}`));
    else resolve?.(message.result);
  }
  return {
    send(method, params = {}, sessionId = undefined) {
      last += 1;
      const id = last;
      return new Promise((resolve, reject) => {
        const timer = setTimeout(() => reject(new Error(`${method}: no answer`)), LONGEST_ANSWER_MS);
        const settle = (end) => (value) => (clearTimeout(timer), end(value));
        waiting.set(id, { resolve: settle(resolve), reject: settle(reject), method });
        toBrowser.write(`${JSON.stringify({ id, method, params, sessionId })}\0`);
      });
    },
    listen: (sessionId, listener) => listeners.set(sessionId, listener),
  };
}

/** Opens a page and waits until it is loaded. `events` gathers everything that was said and asked for meanwhile. */
async function openPage(connection, url, { hasScript = true } = {}) {
  const { targetId } = await connection.send("Target.createTarget", { url: "about:blank" });
  const { sessionId } = await connection.send("Target.attachToTarget", { targetId, flatten: true });
  const send = (method, params) => connection.send(method, params, sessionId);
  const events = [];
  let onLoad;
  const loaded = new Promise((resolve) => (onLoad = resolve));
  connection.listen(sessionId, (method, params) => {
    events.push({ method, params });
    if (method === "Page.loadEventFired") onLoad();
  });
  for (const domain of ["Page", "Network", "Runtime", "Log"]) await send(`${domain}.enable`);
  await send("Emulation.setScriptExecutionDisabled", { value: !hasScript });
  await send("Page.navigate", { url });
  await loaded;
  return { send, events, close: () => connection.send("Target.closeTarget", { targetId }) };
}
