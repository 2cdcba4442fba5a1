// node check.mjs CHROMIUM FOLDER PAGE...
// Each page in a real browser at desktop and phone width, light and dark: no console message, no request
// but for the page itself, nothing wider than the screen, no serious finding of the accessibility checker
// (WCAG 2 A and AA), accepted by the HTML validator, printed to A4. Leaves screenshots and PDFs in FOLDER.
import { readFileSync, mkdirSync, statSync } from "node:fs";
import { basename, join, resolve } from "node:path";
import { pathToFileURL } from "node:url";
import axe from "axe-core";
import { HtmlValidate } from "html-validate";
import puppeteer from "puppeteer-core";

const [chromium, folder, ...pages] = process.argv.slice(2);
if (pages.length === 0) {
	console.error("usage: node check.mjs CHROMIUM FOLDER PAGE...");
	process.exit(2);
}
mkdirSync(folder, { recursive: true });
let wrong = 0;
const complain = (page, text) => {
	wrong += 1;
	console.log(`${page}: ${text}`);
};

const validator = new HtmlValidate({
	extends: ["html-validate:recommended"],
	rules: {
		// Taste, not validity: how the page is indented and quoted.
		"no-trailing-whitespace": "off",
		"void-style": "off",
		"attr-quotes": "off",
		"doctype-style": "off",
		"long-title": "off",
		"no-inline-style": "error",
	},
});

// Running as root, as continuous integration does, the browser's own sandbox cannot be had; the pages are
// our own, and it may load nothing.
const browser = await puppeteer.launch({
	executablePath: chromium,
	args: process.getuid() === 0 ? ["--no-sandbox"] : [],
});
for (const path of pages) {
	const name = basename(path, ".html");
	const report = validator.validateStringSync(readFileSync(path, "utf8"), path);
	for (const message of report.results.flatMap((result) => result.messages)) {
		complain(name, `validator: line ${message.line}: ${message.message} (${message.ruleId})`);
	}
	const address = pathToFileURL(resolve(path)).href;
	for (const [width, height] of [[1280, 900], [360, 740]]) {
		for (const scheme of ["light", "dark"]) {
			const page = await browser.newPage();
			page.on("console", (message) => complain(name, `console: ${message.text()}`));
			page.on("pageerror", (error) => complain(name, `error: ${error.message}`));
			page.on("request", (request) => {
				if (request.url() !== address) complain(name, `request: ${request.url().slice(0, 200)}`);
			});
			await page.setViewport({ width, height });
			await page.emulateMediaFeatures([{ name: "prefers-color-scheme", value: scheme }]);
			await page.goto(address, { waitUntil: "load" });
			const seen = await page.evaluate(() => ({
				wide: document.scrollingElement.scrollWidth - document.documentElement.clientWidth,
				tall: document.scrollingElement.scrollHeight,
				text: document.body.innerText.length,
				active: document.querySelectorAll(
					"script:not([type='application/json']), iframe, object, embed, link, img, video, audio, form, [onclick], [onload], [onerror]",
				).length,
			}));
			if (seen.wide > 0) complain(name, `${width} px: ${seen.wide} px wider than the screen`);
			if (seen.text < 500) complain(name, `${width} px: next to nothing is shown`);
			if (seen.active > 0) complain(name, `${seen.active} elements that do something`);
			await page.evaluate(axe.source);
			const found = await page.evaluate(() =>
				axe.run(document, { runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"] }),
			);
			for (const one of found.violations.filter((one) => ["serious", "critical"].includes(one.impact))) {
				const where = one.nodes.slice(0, 3).map((node) => node.html.slice(0, 160)).join(" | ");
				complain(name, `${width} px, ${scheme}: ${one.id}: ${one.help}: ${where}`);
			}
			// The browser draws no picture of any height.
			const path = join(folder, `${name}-${width}-${scheme}.png`);
			await page.screenshot({ path, fullPage: seen.tall < 12000 });
			await page.close();
		}
	}
	const page = await browser.newPage();
	await page.goto(address, { waitUntil: "load" });
	const pdf = join(folder, `${name}.pdf`);
	await page.pdf({ path: pdf, format: "A4" });
	if (statSync(pdf).size < 5000) complain(name, "prints to next to nothing");
	await page.close();
	console.log(`${name}: looked at`);
}
await browser.close();
console.log(wrong === 0 ? `all ${pages.length} pages pass` : `${wrong} complaints`);
process.exit(wrong === 0 ? 0 : 1);
