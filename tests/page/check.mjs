// The page from end to end in headless Chromium: `node tests/page/check.mjs PACKAGES BINARY [PICTURES]`.
// PACKAGES holds node_modules with playwright-core and axe-core; CHROMIUM names another browser.
import { spawn } from 'node:child_process';
import { createRequire } from 'node:module';
import assert from 'node:assert/strict';
import fs from 'node:fs';
import os from 'node:os';
import path from 'node:path';

const [packages, binary, pictures] = process.argv.slice(2);
const require = createRequire(path.resolve(packages, 'x.js'));
const { chromium } = require('playwright-core');
const axe = fs.readFileSync(require.resolve('axe-core'), 'utf8');
const work = fs.mkdtempSync(path.join(os.tmpdir(), 'loopwright-page-'));

async function serve(listen) {
  const child = spawn(binary, ['serve', '--listen', listen, '--workers', '1', '--store', path.join(work, 'store')], { stdio: ['ignore', 'ignore', 'pipe'] });
  const address = await new Promise((done, fail) => {
    child.on('exit', () => fail(new Error('the service ended')));
    let said = '';
    // The line may come in pieces.
    child.stderr.on('data', (text) => { said += text; const found = /http:\/\/([0-9.:]+)\//.exec(said); if (found) done(found[1]); });
  });
  child.removeAllListeners('exit');
  return { child, address };
}
const end = (server) => new Promise((done) => { server.child.once('exit', done); server.child.kill('SIGKILL'); });

let server = await serve('127.0.0.1:0');
const base = `http://${server.address}/`;
const browser = await chromium.launch({
  executablePath: process.env.CHROMIUM || '/usr/bin/chromium',
  args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
});
const faults = [];
const strangers = [];

async function fresh(options = {}) {
  const context = await browser.newContext({ viewport: { width: 1440, height: 900 }, acceptDownloads: true, reducedMotion: 'reduce', ...options });
  const page = await context.newPage();
  page.setDefaultTimeout(15000);
  page.on('pageerror', (error) => faults.push(error.stack));
  page.on('console', (said) => { if (/Content Security|violates/.test(said.text())) faults.push(said.text()); });
  page.on('request', (asked) => { if (!/^(data|blob):/.test(asked.url()) && !asked.url().startsWith(base)) strangers.push(asked.url()); });
  await page.goto(base);
  return page;
}
const by = (page, role, name) => page.getByRole(role, { name, exact: true });
const shot = (page, name) => pictures && page.screenshot({ path: path.join(pictures, `${name}.png`), fullPage: true });
const open = (page) => by(page, 'button', 'Wraparound cases with hot melt').click();
const answered = (page) => page.getByText('The answer is there.').waitFor({ timeout: 60000 });
async function plan(page) {
  await by(page, 'button', 'Plan').click();
  await answered(page);
}
async function accessible(page, where) {
  await page.evaluate(axe);
  const { violations } = await page.evaluate(() => globalThis.axe.run(document, { resultTypes: ['violations'] }));
  const serious = violations.filter((one) => ['serious', 'critical'].includes(one.impact));
  assert.deepEqual(serious.map((one) => `${where}: ${one.id}: ${one.nodes[0].html}`), []);
}

const tests = {
  async 'an example is planned in two actions, by role and name'() {
    const page = await fresh();
    await accessible(page, 'first page');
    await shot(page, 'first');
    await open(page);
    await plan(page);
    await page.locator('.sheet svg').waitFor();
    assert.match(await page.locator('.facts').innerText(), /28\.34 m²[\s\S]*proven least/);
    await accessible(page, 'plan');
    await shot(page, 'plan-1440-light');
  },
  async 'edit a rate, plan, hold, compare, report'() {
    const page = await fresh();
    await open(page);
    await by(page, 'textbox', 'Cases /min, SKU cartons-2x6').fill('22');
    await plan(page);
    await by(page, 'button', 'Hold intermittent at load').click();
    await by(page, 'button', 'Release intermittent at load').waitFor();
    await by(page, 'button', 'Plan again').click();
    await by(page, 'button', 'Compare with the plan before').click();
    const table = page.getByRole('region', { name: 'Two plans side by side' });
    assert.match(await table.innerText(), /Station load/);
    const [download] = await Promise.all([page.waitForEvent('download'), by(page, 'button', 'Download Report').click()]);
    const file = path.join(work, 'report.html');
    await download.saveAs(file);
    const report = await page.context().newPage();
    await report.goto(`file://${file}`);
    assert.match(await report.innerText('body'), /22/);
    await by(page, 'button', 'Keep this plan').click();
    await page.getByText('The plan is kept').waitFor();
  },
  async 'fifty SKUs are pasted, and taken back in one step'() {
    const page = await fresh();
    await open(page);
    const lines = ['Id\tCases /min\tExtent, cases mm\tMass, cases kg'];
    for (let at = 1; at <= 50; at += 1) lines.push(`pasted-${at}\t${10 + at / 10}\t${200 + at}\t3,5`);
    const text = lines.join('\r\n');
    await by(page, 'textbox', 'Id , SKU cartons-2x6').evaluate((field, given) => {
      const data = new DataTransfer();
      data.setData('text/plain', given);
      field.dispatchEvent(new ClipboardEvent('paste', { clipboardData: data, bubbles: true, cancelable: true }));
    }, text);
    assert.equal(await page.locator('.skus tbody tr').count(), 50);
    assert.equal(await by(page, 'textbox', 'Cases /min, SKU pasted-50').inputValue(), '15');
    assert.equal(await by(page, 'textbox', 'Mass, cases kg, SKU pasted-50').inputValue(), '3.5');
    await page.getByText('The document is in order.').waitFor();
    await by(page, 'button', 'Undo').click();
    assert.equal(await page.locator('.skus tbody tr').count(), 3);
    await by(page, 'button', 'Redo').click();
    assert.equal(await page.locator('.skus tbody tr').count(), 50);
  },
  async 'a bad value is found at its field within 100 ms, and mended; the draft outlives a reload'() {
    const page = await fresh();
    await open(page);
    await page.getByText('The document is in order.').waitFor();
    const rate = by(page, 'textbox', 'Cases /min, SKU cartons-2x4');
    const took = await rate.evaluate((field) => new Promise((done) => {
      const begun = performance.now();
      new MutationObserver((_, watch) => { if (field.getAttribute('aria-invalid')) { watch.disconnect(); done(performance.now() - begun); } })
        .observe(field, { attributes: true });
      field.value = '-3';
      field.dispatchEvent(new InputEvent('input', { bubbles: true }));
    }));
    console.log(`   findings after ${took.toFixed(1)} ms`);
    const note = await rate.getAttribute('aria-describedby');
    assert.match(await page.locator(`#${note}`).innerText(), /0\.0001|range|at least/);
    await by(page, 'button', 'Plan').click();
    assert.ok(await rate.evaluate((field) => field === document.activeElement));
    await rate.fill('31');
    await page.getByText('The document is in order.').waitFor();
    await page.reload();
    assert.equal(await rate.inputValue(), '31');
    await by(page, 'button', 'Save').click();
    await page.getByText('Saved', { exact: true }).waitFor();
  },
  async 'stations move, come and go by keyboard alone'() {
    const page = await fresh();
    await open(page);
    const order = () => page.locator('.station').evaluateAll((all) => all.map((one) => one.getAttribute('aria-label')));
    await by(page, 'button', 'Move earlier wrap').focus();
    await page.keyboard.press('Enter');
    assert.deepEqual((await order()).slice(0, 3), ['Station blank', 'Station wrap', 'Station load']);
    assert.ok(await by(page, 'button', 'Move earlier wrap').evaluate((one) => one === document.activeElement));
    await page.keyboard.press('Control+z');
    assert.equal((await order())[1], 'Station load');
    await by(page, 'button', 'Add station').press('Enter');
    assert.equal((await order()).length, 7);
    await by(page, 'button', 'Remove station station-7').press('Enter');
    await page.getByText('The document is in order.').waitFor();
  },
  async 'a cell is copied, deleted and put back'() {
    const page = await fresh();
    await by(page, 'button', 'Blank cell').click();
    await page.getByText('The document is in order.').waitFor();
    await by(page, 'link', '← Cells').click();
    await by(page, 'button', 'Copy New cell').click();
    await by(page, 'button', 'Delete New cell, copy').click();
    await by(page, 'link', 'New cell, copy').waitFor({ state: 'detached' });
    await by(page, 'button', 'Undo').click();
    await by(page, 'link', 'New cell, copy').waitFor();
  },
  async 'keys that have no form of their own survive, and can be edited'() {
    const page = await fresh();
    const cell = await (await page.request.get(`${base}v1/examples/wraparound-glue`)).json();
    cell.stations[0].per_sku = { 'cartons-2x4': { settle_s: 0.2 } };
    cell.not_known = { deep: [1] };
    const kept = await (await page.request.post(`${base}v1/cells`, { data: { name: 'own', cell } })).json();
    await page.goto(`${base}#cell/${kept.id}`);
    await by(page, 'button', 'Save').click();
    await page.getByText('Saved', { exact: true }).waitFor();
    const now = await (await page.request.get(`${base}v1/cells/${kept.id}`)).json();
    assert.deepEqual(now.cell, cell);
  },
  async 'the service is killed and started again under an open page'() {
    const page = await fresh();
    await open(page);
    await page.getByText('The document is in order.').waitFor();
    const { address } = server;
    await end(server);
    const rate = by(page, 'textbox', 'Cases /min, SKU cartons-2x4');
    await rate.fill('-1');
    await page.getByText('The service does not answer.').waitFor();
    server = await serve(address);
    await page.getByText('The service answers again.').waitFor();
    await page.locator('[aria-invalid]').waitFor();
    await rate.fill('30');
    await plan(page);
  },
  async 'carriers run round the drawing, and one cursor serves drawing and diagram'() {
    const page = await fresh();
    await open(page);
    await plan(page);
    await by(page, 'tab', 'Motion').click();
    const moment = page.locator('.run-cursor-text');
    await moment.waitFor();
    // Less motion was asked for: it stands until it is told to run.
    assert.equal(await moment.textContent(), '0.00 s');
    const first = page.locator('.run-carrier').first();
    const place = await first.getAttribute('transform');
    await by(page, 'button', 'Step on').click();
    assert.notEqual(await moment.textContent(), '0.00 s');
    await by(page, 'slider', 'Moment of the run, on the drawing').press('End');
    await by(page, 'slider', 'Moment of the run, on the drawing').press('Home');
    assert.equal(await first.getAttribute('transform'), place);
    await by(page, 'slider', 'Moment of the run, on the time–distance diagram').press('PageDown');
    await by(page, 'slider', 'Moment of the run, on the time–distance diagram').press('PageUp');
    assert.equal(await moment.textContent(), '1.00 s');
    assert.notEqual(await first.getAttribute('transform'), place);
    assert.match(await page.locator('.doings').innerText(), /at work/);
    await accessible(page, 'motion');
    await shot(page, 'motion-1440-light');
    await by(page, 'combobox', 'Speed').selectOption('0.2');
    await browser.startTracing(page, { categories: ['devtools.timeline'] });
    await by(page, 'button', 'Run').click();
    await page.waitForTimeout(2000);
    await by(page, 'button', 'Pause').click();
    const { traceEvents } = JSON.parse((await browser.stopTracing()).toString());
    const frames = traceEvents.filter((one) => one.name === 'FireAnimationFrame').map((one) => (one.dur || 0) / 1000).sort((a, b) => a - b);
    console.log(`   script a frame with ${await page.locator('.run-carrier').count()} carriers: median ${frames[frames.length >> 1]?.toFixed(2)} ms, longest ${frames.at(-1)?.toFixed(2)} ms, ${frames.length} frames`);
    assert.notEqual(await moment.textContent(), '1.00 s');
  },
  async 'forty carriers run smoothly, and start by themselves'() {
    const page = await fresh({ reducedMotion: 'no-preference' });
    const cell = await (await page.request.get(`${base}v1/examples/wraparound-glue`)).json();
    cell.circuits[0].fixed = { carriers: 40 };
    delete cell.circuits[0].max_carriers;
    delete cell.requirements.floor;
    cell.circuits[0].track.max_modules = 60;
    const kept = await (await page.request.post(`${base}v1/cells`, { data: { name: 'forty', cell } })).json();
    await page.goto(`${base}#cell/${kept.id}`);
    await plan(page);
    await by(page, 'tab', 'Motion').click();
    await page.locator('.run-cursor-text').waitFor();
    await browser.startTracing(page, { categories: ['devtools.timeline'] });
    await page.waitForTimeout(2000);
    const { traceEvents } = JSON.parse((await browser.stopTracing()).toString());
    const frames = traceEvents.filter((one) => one.name === 'FireAnimationFrame').map((one) => (one.dur || 0) / 1000).sort((a, b) => a - b);
    assert.equal(await page.locator('.run-carrier').count(), 40);
    assert.ok(frames.length > 10, 'it runs by itself where motion is welcome');
    console.log(`   script a frame with 40 carriers: median ${frames[frames.length >> 1].toFixed(2)} ms, longest ${frames.at(-1).toFixed(2)} ms, ${frames.length} frames`);
  },
  async 'a conflict is explained, and a change that would do is planned'() {
    const page = await fresh();
    const cell = await (await page.request.get(`${base}v1/examples/wraparound-glue`)).json();
    cell.requirements.floor = { length_mm: 5000, width_mm: 4000 };
    const kept = await (await page.request.post(`${base}v1/cells`, { data: { name: 'tight', cell } })).json();
    await page.goto(`${base}#cell/${kept.id}`);
    await plan(page);
    await page.getByText('No plan can hold all that is asked: proven.').waitFor();
    await by(page, 'button', 'Look what would help').click();
    const place = page.getByRole('region', { name: /What cannot hold together/ });
    await place.waitFor({ timeout: 90000 });
    await accessible(page, 'conflict');
    assert.match(await place.innerText(), /would do/);
    await shot(page, 'conflict-1440-light');
  },
  async 'by keyboard alone, from the first page to a plan and its motion'() {
    const page = await fresh();
    const to = async (role, name) => {
      const wanted = by(page, role, name);
      await wanted.first().waitFor();
      for (let presses = 0; presses < 400; presses += 1) {
        if (await wanted.first().evaluate((one) => one === document.activeElement)) return;
        await page.keyboard.press('Tab');
      }
      assert.fail(`${role} ${name} is not reached by Tab`);
    };
    await to('button', 'Wraparound cases with hot melt');
    await page.keyboard.press('Enter');
    await page.getByText('The document is in order.').waitFor();
    await to('button', 'Plan');
    await page.keyboard.press('Enter');
    await answered(page);
    await to('tab', 'Plan');
    for (let presses = 0; presses < 12 && !(await page.locator('.run-cursor-text').count()); presses += 1) {
      await page.keyboard.press('ArrowRight');
      await page.keyboard.press('Enter');
      await page.waitForTimeout(150);
    }
    await page.locator('.run-cursor-text').waitFor();
    await to('button', 'Step on');
    await page.keyboard.press('Enter');
    assert.notEqual(await page.locator('.run-cursor-text').textContent(), '0.00 s');
  },
  async 'what would help is shown, and leads to a plan of its own'() {
    const page = await fresh();
    await open(page);
    await plan(page);
    await by(page, 'tab', 'Alternatives').click();
    await by(page, 'button', 'Look what would help').click();
    const place = page.getByRole('region', { name: /Each limit relaxed/ });
    await place.waitFor({ timeout: 60000 });
    await by(page, 'button', 'Compare alternatives').click();
    await page.getByRole('region', { name: 'Alternatives' }).waitFor({ timeout: 60000 });
    await page.getByLabel('First, from').fill('0.95');
    await page.getByLabel('First, to').fill('1.05');
    await page.getByLabel('First, values').fill('3');
    await by(page, 'button', 'Plan over the range').click();
    const range = page.getByRole('region', { name: 'Plans over the range' });
    await range.waitFor({ timeout: 60000 });
    assert.equal(await range.locator('tbody tr').count(), 3);
    await page.locator('.sheet.chart svg').first().waitFor();
    await accessible(page, 'alternatives');
    await shot(page, 'alternatives-1440-light');
    for (const [width, colorScheme] of [[900, 'dark'], [2560, 'light']]) {
      await page.setViewportSize({ width, height: 900 });
      await page.emulateMedia({ colorScheme });
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `alternatives scroll sideways at ${width}`);
      await accessible(page, `alternatives ${width} ${colorScheme}`);
      await shot(page, `alternatives-${width}-${colorScheme}`);
    }
    await page.setViewportSize({ width: 1440, height: 900 });
    await page.emulateMedia({ colorScheme: 'light' });
    await place.getByRole('button', { name: /^Open as a cell/ }).first().click();
    await answered(page);
    await page.locator('.sheet svg').first().waitFor();
  },
  async 'the plans that no other beats are shown, and lead to cells of their own'() {
    const page = await fresh();
    await open(page);
    await plan(page);
    const cell = await (await page.request.get(`${base}v1/examples/wraparound-glue`)).json();
    const front = await (await page.request.post(`${base}v1/front?wait_s=30&time_limit_s=60`, { data: { cell } })).json();
    assert.ok(front.complete && front.plans.length > 1, JSON.stringify(front));
    await by(page, 'tab', 'Alternatives').click();
    const part = page.getByRole('region', { name: 'No other beats', exact: true });
    // What is said of the progress is gathered from the first word on.
    await part.getByRole('status').evaluate((state) => {
      globalThis.said = [];
      new MutationObserver(() => globalThis.said.push(state.textContent)).observe(state, { childList: true, characterData: true, subtree: true });
    });
    await by(page, 'button', 'Find the plans that no other beats').click();
    const list = page.getByRole('region', { name: 'Plans that no other beats', exact: true });
    await list.waitFor({ timeout: 60000 });
    const rows = await list.locator('tbody tr').evaluateAll((all) => all.map((row) => [...row.cells].map((one) => one.innerText.trim())));
    assert.deepEqual(rows.map((row) => [Number(row[1]), Number(row[2])]), front.plans.map((one) => [Number(one.footprint.area_m2.toFixed(2)), one.carriers]));
    await part.getByText('None is missing: proven.').waitFor();
    await part.locator('.sheet.chart svg').waitFor();
    const shares = (await page.evaluate(() => globalThis.said)).map((text) => /(\d+) of (\d+) parts/.exec(text)).filter(Boolean).map((found) => found[1] / found[2]);
    assert.ok(shares.every((share, at) => at === 0 || share >= shares[at - 1]), `progress goes back: ${shares}`);
    await accessible(page, 'front');
    await shot(page, 'front-1440-light');
    // The last plan as limits of a cell: planned again, it is that plan.
    const last = front.plans.at(-1);
    await list.getByRole('button', { name: /^Open as a cell/ }).last().click();
    await answered(page);
    await page.locator('.sheet svg').first().waitFor();
    const facts = await page.locator('.facts').innerText();
    assert.ok(facts.includes(`${last.footprint.area_m2.toFixed(2)} m²`) && new RegExp(`\\b${last.carriers}\\b`).test(facts), facts);
  },
  async 'several loops are listed together, and have alternatives'() {
    const page = await fresh();
    const cell = await (await page.request.get(`${base}v1/examples/two-loops`)).json();
    const kept = await (await page.request.post(`${base}v1/cells`, { data: { name: 'two loops', cell } })).json();
    await page.goto(`${base}#cell/${kept.id}`);
    await plan(page);
    const answer = await (await page.request.post(`${base}v1/plan`, { data: cell })).json();
    const carriers = answer.circuits.reduce((sum, circuit) => sum + circuit.carriers, 0);
    const facts = await page.locator('.facts').innerText();
    assert.match(facts, new RegExp(`\\b${carriers}\\b[^]*${answer.circuits.map((circuit) => `${circuit.carriers} on ${circuit.id}`).join(', ')}`));
    for (const { id } of answer.circuits) await page.getByRole('region', { name: new RegExp(`^Stations in travel order on ${id},`) }).waitFor();
    assert.deepEqual(await page.getByRole('tab').allInnerTexts(), ['Plan', 'Alternatives', 'Simulation']);
    await by(page, 'tab', 'Alternatives').click();
    await by(page, 'button', 'Compare alternatives').click();
    const list = page.getByRole('region', { name: 'Alternatives', exact: true });
    await list.waitFor({ timeout: 60000 });
    assert.match(await list.locator('tbody').innerText(), /load continuous/);
    assert.equal(await page.getByRole('region', { name: 'No other beats', exact: true }).count(), 0);
    await accessible(page, 'several loops');
    await shot(page, 'several-1440-light');
  },
  async 'alternatives are simulated where that is asked for'() {
    const page = await fresh();
    const cell = await (await page.request.get(`${base}v1/examples/short-changes`)).json();
    cell.skus = cell.skus.slice(0, 2);
    const kept = await (await page.request.post(`${base}v1/cells`, { data: { name: 'two sizes', cell } })).json();
    await page.goto(`${base}#cell/${kept.id}`);
    await plan(page);
    await by(page, 'tab', 'Alternatives').click();
    const list = page.getByRole('region', { name: 'Alternatives', exact: true });
    const heads = () => list.locator('thead').innerText();
    await by(page, 'button', 'Compare alternatives').click();
    await list.waitFor({ timeout: 60000 });
    assert.doesNotMatch(await heads(), /efficiency/i);
    await by(page, 'checkbox', 'Simulate each plan with what goes wrong').check();
    await by(page, 'button', 'Compare alternatives').click();
    await page.getByText('all variants meet the same luck').waitFor({ timeout: 90000 });
    assert.match(await heads(), /Least efficiency %, SKU/);
    assert.match(await list.locator('tbody tr').first().innerText(), /\d\d\.\d ± \d+\.\d, green-\d\d/);
    await accessible(page, 'simulated alternatives');
    await shot(page, 'simulated-alternatives-1440-light');
  },
  async 'changes and a simulation on a plan'() {
    const page = await fresh();
    await by(page, 'button', 'Tea cartons with short changes').click();
    await plan(page);
    await by(page, 'tab', 'Changing over').click();
    await by(page, 'button', 'Work out the changes').click();
    await page.locator('.matrix').waitFor({ timeout: 60000 });
    assert.equal(await page.locator('.matrix .worst').count(), 1);
    await page.getByRole('region', { name: 'Order of the week' }).waitFor();
    await accessible(page, 'changes');
    await shot(page, 'changes-1440-light');
    await by(page, 'tab', 'Simulation').click();
    await page.getByLabel('Hours of each replication').fill('1');
    await by(page, 'button', 'Simulate').click();
    assert.match(await page.getByRole('region', { name: 'Net rates' }).innerText({ timeout: 60000 }), /±/);
    await page.locator('.chart svg').nth(1).waitFor();
    await accessible(page, 'simulation');
  },
  async 'work is cancelled'() {
    const page = await fresh();
    await by(page, 'button', 'Fifty SKUs on one cell').click();
    await by(page, 'button', 'Plan').click();
    await answered(page);
    await by(page, 'tab', 'Alternatives').click();
    await by(page, 'button', 'Compare alternatives').click();
    await by(page, 'button', 'Cancel: Compare alternatives').click();
    await page.waitForFunction(() => [...document.querySelectorAll('.task button')].every((one) => !one.disabled));
    const jobs = await (await page.request.get(`${base}v1/jobs?state=cancelled`)).json();
    assert.ok(jobs.items.length > 0);
  },
  async 'a station is dragged to another place'() {
    const page = await fresh();
    await open(page);
    await page.locator('.station h4').nth(1).dragTo(page.locator('.station').nth(0), { targetPosition: { x: 300, y: 15 } });
    assert.match(await page.locator('.station').first().getAttribute('aria-label'), /load/);
  },
  async 'a document is imported; two kept plans are compared'() {
    const page = await fresh();
    const cell = await (await page.request.get(`${base}v1/examples/wraparound-glue`)).json();
    cell.name = 'Brought along';
    await page.getByLabel(/^Import a cell document/).setInputFiles({ name: 'own.json', mimeType: 'application/json', buffer: Buffer.from(JSON.stringify(cell)) });
    await page.getByText('The document is in order.').waitFor();
    await plan(page);
    await by(page, 'button', 'Keep this plan').click();
    await page.getByText('The plan is kept').waitFor();
    await page.getByText('The plan is kept').waitFor();
    await by(page, 'button', 'Close').click();
    await by(page, 'button', 'Keep this plan').click();
    await page.getByText('The plan is kept').waitFor();
    await by(page, 'link', '← Cells').click();
    await by(page, 'checkbox', 'Compare Brought along, plan 1').check();
    await by(page, 'checkbox', 'Compare Brought along, plan 1 (2)').check();
    await by(page, 'button', 'Compare two plans').click();
    await page.getByText(/lines differ/).waitFor();
    await accessible(page, 'comparison');
  },
  async 'a document in YAML is imported'() {
    const page = await fresh();
    const buffer = fs.readFileSync('examples/narrow-aisle.yaml');
    await page.getByLabel(/^Import a cell document/).setInputFiles({ name: 'own.yaml', mimeType: 'application/yaml', buffer });
    await page.getByText('The document is in order.').waitFor();
    await by(page, 'link', '← Cells').click();
    await page.getByLabel(/^Import a cell document/).setInputFiles({ name: 'odd.yaml', mimeType: 'application/yaml', buffer: Buffer.from('name: [') });
    await page.getByText(/odd.yaml: the document cannot be read/).waitFor();
  },
  async 'narrow and dark, no serious fault'() {
    for (const [width, colorScheme] of [[900, 'dark'], [900, 'light'], [1440, 'dark'], [2560, 'light']]) {
      const page = await fresh({ viewport: { width, height: 900 }, colorScheme });
      await open(page);
      await plan(page);
      await page.locator('.sheet svg').waitFor();
      await accessible(page, `${width} ${colorScheme}`);
      assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= innerWidth), `${width}: scrolls sideways`);
      await shot(page, `plan-${width}-${colorScheme}`);
    }
  },
  async 'first paint'() {
    const page = await fresh();
    await page.reload();
    await by(page, 'button', 'Blank cell').waitFor();
    const paint = await page.evaluate(() => performance.getEntriesByName('first-contentful-paint')[0].startTime);
    console.log(`   first paint after ${paint.toFixed(0)} ms`);
  },
};

let failed = 0;
for (const [name, test] of Object.entries(tests)) {
  const began = Date.now();
  try {
    await test();
    assert.deepEqual([faults.splice(0), strangers.splice(0)], [[], []]);
    console.log(`ok ${name} (${((Date.now() - began) / 1000).toFixed(1)} s)`);
  } catch (error) {
    failed += 1;
    console.log(`FAILED ${name}\n${error.stack}`);
  }
  await Promise.all(browser.contexts().map((context) => context.close()));
}
await browser.close();
await end(server);
fs.rmSync(work, { recursive: true, force: true });
console.log(`${Object.keys(tests).length - failed} passed, ${failed} failed`);
process.exit(failed ? 1 : 0);
