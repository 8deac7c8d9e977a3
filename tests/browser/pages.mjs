// Opens the report of each audience in a browser, as a reader would, and says what is wrong with it.
//
// node pages.mjs FOLDER_OF_AUDIENCES AXE_SCRIPT FOLDER_FOR_PICTURES
//
// Checks: nothing is asked of any network; no error; the same picture with scripts switched off; nothing wider than the
// screen at three widths; no serious or critical finding of the accessibility checker in light and dark, everything
// unfolded; a print of at least two pages. Source of the accessibility rules: axe-core, which names the criterion of
// the Web Content Accessibility Guidelines for each.

import { existsSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { resolve } from "node:path";
import { pathToFileURL } from "node:url";
import { withBrowser } from "./chromium.mjs";

const AUDIENCES = ["clinic", "auditor", "public"];
const WIDTHS = [360, 800, 1200];
const NARROWEST = WIDTHS[0];
const WIDEST = WIDTHS[WIDTHS.length - 1];
const TALLEST_PICTURE = 12_000;

/** What must be found on `faulty.html`, a page with one fault of each kind. */
const PLANTED = [
  "360 px: div.wide is wider than the screen", "the page scrolls sideways", "looks different with scripts switched off",
  "printed on 1 pages", "(color-contrast)", "(image-alt)", "asks for http://127.0.0.1:9/", "script error",
];

const [folder, axePath, pictures] = process.argv.slice(2).map((path) => resolve(path));
const axe = readFileSync(axePath, "utf8");
mkdirSync(pictures, { recursive: true });

const faults = await withBrowser(async (browser) => {
  const found = await blindness(browser);
  for (const audience of AUDIENCES) {
    const path = `${folder}/${audience}/report.html`;
    const faults = existsSync(path) ? await checkPage(browser, audience, path) : ["there is no such page"];
    found.push(...faults.map((fault) => `${audience}/report.html: ${fault}`));
  }
  return found;
});
for (const fault of faults) console.error(fault);
console.log(`${AUDIENCES.length} pages, ${WIDTHS.length} widths, light and dark: ${faults.length} faults`);
process.exitCode = faults.length > 0 ? 1 : 0;

/** Planted faults that the checks do not see. */
async function blindness(browser) {
  const path = new URL("faulty.html", import.meta.url).pathname;
  const seen = await checkPage(browser, "faulty", path);
  const unseen = PLANTED.filter((words) => !seen.some((fault) => fault.includes(words)));
  return unseen.map((words) => `the checks do not see a planted fault: ${words}`);
}

async function checkPage(browser, audience, path) {
  const url = pathToFileURL(path).href;
  const page = await browser.openPage(url);
  const faults = [];
  for (const width of WIDTHS) {
    await show(page, width, "light");
    faults.push(...(await overflow(page, width)));
    const picture = await takePicture(page, width);
    writeFileSync(`${pictures}/${audience}-${width}.png`, picture);
    if (width === NARROWEST) faults.push(...(await differsWithoutScript(browser, url, width, picture)));
  }
  faults.push(...(await printFaults(page, `${pictures}/${audience}.pdf`)));
  await evaluate(page, "for (const part of document.querySelectorAll('details')) part.open = true");
  await evaluate(page, axe);
  for (const [width, scheme] of [[WIDEST, "light"], [NARROWEST, "dark"]]) {
    await show(page, width, scheme);
    faults.push(...(await overflow(page, width)).map((fault) => `unfolded: ${fault}`));
    faults.push(...(await accessibility(page)).map((fault) => `${scheme}, ${width} px: ${fault}`));
  }
  faults.push(...said(page.events, url));
  await page.close();
  return faults;
}

async function show(page, width, scheme) {
  await page.send("Emulation.setDeviceMetricsOverride", { width, height: 900, deviceScaleFactor: 1, mobile: false });
  const features = [{ name: "prefers-color-scheme", value: scheme }];
  await page.send("Emulation.setEmulatedMedia", { media: "screen", features });
}

async function evaluate(page, expression) {
  const { result, exceptionDetails } = await page.send("Runtime.evaluate", {
    expression, awaitPromise: true, returnByValue: true,
  });
  if (exceptionDetails) throw new Error(`in the page: ${exceptionDetails.exception?.description ?? exceptionDetails.text}`);
  return result.value;
}

/** Parts that reach beyond the right edge and do not scroll within a frame of their own. */
async function overflow(page, width) {
  return evaluate(page, `(() => {
    const root = document.documentElement;
    const isFramed = (part) => part.closest(".scroll") !== null || part.closest("caption, .skip, svg") !== null;
    const wide = [...document.querySelectorAll("body *")].filter((part) =>
      !isFramed(part) && part.getBoundingClientRect().right > ${width} + 1);
    const said = wide.slice(0, 3).map((part) => part.tagName.toLowerCase() + (part.className ? "." + part.className : ""));
    const faults = said.map((part) => "${width} px: " + part + " is wider than the screen");
    if (root.scrollWidth > root.clientWidth) faults.push("${width} px: the page scrolls sideways");
    return faults;
  })()`);
}

async function takePicture(page, width) {
  const { cssContentSize } = await page.send("Page.getLayoutMetrics");
  const clip = { x: 0, y: 0, width, height: Math.min(cssContentSize.height, TALLEST_PICTURE), scale: 1 };
  const { data } = await page.send("Page.captureScreenshot", { format: "png", clip, captureBeyondViewport: true });
  return Buffer.from(data, "base64");
}

async function differsWithoutScript(browser, url, width, picture) {
  const page = await browser.openPage(url, { hasScript: false });
  await show(page, width, "light");
  const isSame = picture.equals(await takePicture(page, width));
  await page.close();
  return isSame ? [] : ["the page looks different with scripts switched off"];
}

/** Prints to PDF; pages are counted by their objects, which are not packed in what Chromium writes. */
async function printFaults(page, path) {
  const { data } = await page.send("Page.printToPDF", { printBackground: false, preferCSSPageSize: true });
  const paper = Buffer.from(data, "base64");
  writeFileSync(path, paper);
  const nPages = paper.toString("latin1").split(/\/Type\s*\/Page[^s]/).length - 1;
  return nPages >= 2 ? [] : [`printed on ${nPages} pages`];
}

async function accessibility(page) {
  const violations = await evaluate(page, `axe.run(document, { resultTypes: ["violations"] }).then((found) =>
    found.violations.map(({ id, impact, help, nodes }) => ({ id, impact, help, n: nodes.length, first: nodes[0].target.join(" ") })))`);
  return violations
    .filter(({ impact }) => impact === "serious" || impact === "critical")
    .map(({ id, impact, help, n, first }) => `${impact}: ${help} (${id}), ${n} times, first at ${first}`);
}

/** Everything asked of a network and every error said while the page was open. */
function said(events, url) {
  const faults = [];
  for (const { method, params } of events) {
    if (method === "Network.requestWillBeSent" && params.request.url !== url) {
      faults.push(`asks for ${params.request.url.slice(0, 80)}`);
    }
    if (method === "Runtime.exceptionThrown") faults.push(`script error: ${params.exceptionDetails.text}`);
    if (method === "Log.entryAdded" && params.entry.level !== "info" && params.entry.level !== "verbose") {
      faults.push(`${params.entry.level}: ${params.entry.text}`);
    }
  }
  return faults;
}
