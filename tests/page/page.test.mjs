// The page in a real browser: it loads from a file, asks nothing of anybody, shows what it says, and treats names as data.
import { after, before, test } from 'node:test';
import assert from 'node:assert/strict';
import { execFileSync } from 'node:child_process';
import { mkdirSync, mkdtempSync, readFileSync, statSync, writeFileSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import puppeteer from 'puppeteer-core';

const { PROGRAM, OUT, ROOT } = process.env;
const run = (...words) => {
  try {
    execFileSync(PROGRAM, words, { stdio: ['ignore', 'pipe', 'pipe'] });
  } catch (error) {
    // 1: done, but a limit of the job was passed.
    if (error.status !== 1) throw new Error(error.stderr);
  }
};
const report = (model, ...flags) => {
  const page = join(mkdtempSync(join(OUT, 'page-')), 'page.html');
  run('report', model, '--out', page, ...flags);
  return page;
};
let browser, demo;

before(async () => {
  mkdirSync(OUT, { recursive: true });
  demo = report(join(ROOT, 'fixtures/demo/grotto_wall.toml'), '--date', '1 May 2030');
  browser = await puppeteer.launch({
    executablePath: process.env.CHROMIUM || '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update',
      '--disable-sync', '--use-angle=swiftshader', '--enable-unsafe-swiftshader', '--ignore-gpu-blocklist'],
    userDataDir: mkdtempSync(join(tmpdir(), 'chromium-')),
  });
});
after(() => browser?.close());

/** Opens a page; every console error, page error and request but the page's own becomes a line of `complaints`. */
async function open(file, { width = 1400, height = 900, gl = true, patience = 60_000 } = {}) {
  const page = await browser.newPage();
  const complaints = [];
  page.on('console', (m) => { if (['error', 'warn'].includes(m.type())) complaints.push(`console: ${m.text()}`); });
  page.on('pageerror', (e) => complaints.push(`error: ${e.message}`));
  page.on('dialog', (d) => { complaints.push(`dialog: ${d.message()}`); d.dismiss(); });
  page.on('request', (r) => { if (!/^(data|blob):/.test(r.url()) && r.url() !== 'file://' + file) complaints.push(`request: ${r.url()}`); });
  await page.setViewport({ width, height });
  if (!gl) await page.evaluateOnNewDocument(() => { HTMLCanvasElement.prototype.getContext = () => null; });
  await page.goto('file://' + file);
  // A page that never gets ready is looked at as it is.
  await page.waitForFunction(() => document.body.dataset.ready, { timeout: patience }).catch(() => {});
  return { page, complaints };
}

/** The picture as a few hundred sampled colours. */
const sampled = (page) => page.evaluate(async () => {
  await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  const view = document.getElementById('view');
  const copy = document.createElement('canvas');
  copy.width = 200; copy.height = 150;
  const pen = copy.getContext('2d');
  pen.drawImage(view, 0, 0, 200, 150);
  const { data } = pen.getImageData(0, 0, 200, 150);
  const pixels = [];
  for (let k = 0; k < data.length; k += 4) pixels.push((data[k] << 16) | (data[k + 1] << 8) | data[k + 2]);
  return pixels;
});
const differing = (a, b) => a.filter((p, k) => p !== b[k]).length;

/** What is wrong with a page, as far as opening it shows. */
async function faults({ page, complaints }) {
  const found = [...complaints];
  if (await page.evaluate(() => document.body.dataset.ready) !== 'yes') found.push('the view did not start');
  const rock = (await page.$('#view')) ? (await sampled(page)).filter((p) => p !== 0xffffff).length : 0;
  if (rock < 5000) found.push(`blank: ${rock} pixels`);
  if (await page.$$eval('section img, section script', (all) => all.length)) found.push('a name became an element');
  return found;
}

test('opens from a file, alone, under 3 MB', async () => {
  assert.ok(statSync(demo).size < 3_000_000);
  const { page, complaints } = await open(demo);
  assert.deepEqual(await faults({ page, complaints }), []);
  await page.screenshot({ path: join(OUT, 'page-1400.png') });
  await page.screenshot({ path: join(OUT, 'page-1400-whole.png'), fullPage: true });
  await page.close();
});

test('the first screen holds the table of trust', async () => {
  const { page } = await open(demo);
  const bottom = await page.$eval('#trust', (section) => section.getBoundingClientRect().bottom);
  assert.ok(bottom <= 900, `ends at ${bottom}`);
  await page.close();
});

test('every colouring shows the rock, each its own way', async () => {
  const { page, complaints } = await open(demo);
  const seen = {};
  for (const name of await page.$$eval('input[name=colour]', (all) => all.map((radio) => radio.value))) {
    await page.click(`input[name=colour][value=${name}]`);
    seen[name] = await sampled(page);
    const rock = seen[name].filter((p) => p !== 0xffffff).length;
    assert.ok(rock > 5000 && new Set(seen[name]).size > 50, `${name}: ${rock} pixels, ${new Set(seen[name]).size} colours`);
    assert.ok(await page.$$eval('#legend li', (all) => all.length) >= 2);
    await page.screenshot({ path: join(OUT, `colour-${name}.png`) });
  }
  const names = Object.keys(seen);
  assert.deepEqual(names, ['lean', 'coated', 'zones', 'lath', 'lifts', 'thickness']);
  for (const a of names) for (const b of names) if (a < b) assert.ok(differing(seen[a], seen[b]) > 500, `${a} and ${b}`);
  assert.deepEqual(complaints, []);
  await page.close();
});

/** How much of a picture each entry of a legend takes, by the nearest colour whatever its light; `top` rows are looked at. */
const shares = (page, name, { picture = null, top = 1 } = {}) => page.evaluate(async (name, picture, top) => {
  const { legends } = JSON.parse(document.getElementById('scene').textContent);
  let source = document.getElementById('view');
  if (picture) {
    source = new Image();
    source.src = picture;
    await source.decode();
  } else await new Promise((done) => requestAnimationFrame(() => requestAnimationFrame(done)));
  const copy = document.createElement('canvas');
  copy.width = source.width; copy.height = Math.floor(source.height * top);
  const pen = copy.getContext('2d');
  pen.drawImage(source, 0, 0);
  const { data } = pen.getImageData(0, 0, copy.width, copy.height);
  const counts = legends[name].map(() => 0);
  for (let k = 0; k < data.length; k += 4) {
    const pixel = [data[k], data[k + 1], data[k + 2]];
    // A tint under any light: on the line from black to it. Ink, grid and figure lie on none or are left out alike.
    const off = legends[name].map(({ rgb }) => {
      const light = pixel.reduce((sum, c, i) => sum + c * rgb[i], 0) / rgb.reduce((sum, c) => sum + c * c, 0);
      return light < 0.55 || light > 1.02 ? Infinity : Math.hypot(...pixel.map((c, i) => c - light * rgb[i]));
    });
    const best = off.indexOf(Math.min(...off));
    if (off[best] < 6) counts[best]++;
  }
  const whole = counts.reduce((sum, n) => sum + n, 0);
  return counts.map((n) => n / whole);
}, name, picture, top);

test('the view and the still pictures show the same', async () => {
  const stills = mkdtempSync(join(OUT, 'stills-'));
  run('report', join(ROOT, 'fixtures/demo/grotto_wall.toml'), '--pictures', stills);
  const { page } = await open(demo);
  await page.click('[data-view=front]');
  for (const name of await page.$$eval('input[name=colour]', (all) => all.map((radio) => radio.value))) {
    await page.click(`input[name=colour][value=${name}]`);
    const picture = 'data:image/png;base64,' + readFileSync(join(stills, `front-${name}.png`)).toString('base64');
    // Without the legend, the lowest 72 of 1000 rows.
    const [still, view] = [await shares(page, name, { picture, top: 0.928 }), await shares(page, name)];
    // One is drawn in perspective, the other straight: a ledge hides a little more or less.
    still.forEach((share, k) => assert.ok(Math.abs(share - view[k]) < 0.05, `${name}: ${still} in the still, ${view} in the view`));
  }
  await page.close();
});

test('a row lights its faces, a face lights its row', async () => {
  const { page } = await open(demo);
  const before = await sampled(page);
  await page.click('tr[data-faces="class:2"] td');
  assert.ok(differing(before, await sampled(page)) > 1000);
  await page.click('tr[data-faces="class:2"] td');
  assert.ok(differing(before, await sampled(page)) < 20);
  await page.focus('tr[data-faces="zone:0"]');
  await page.keyboard.press('Enter');
  assert.ok(await page.$('tr.lit[data-faces="zone:0"]'));
  await page.keyboard.press('Enter');
  await page.click('input[name=colour][value=zones]');
  await page.click('[data-view=front]');
  await sampled(page);
  const box = await (await page.$('#view')).boundingBox();
  await page.mouse.click(box.x + box.width / 2, box.y + box.height / 2);
  assert.match(await page.$eval('tr.lit', (row) => row.dataset.faces), /^zone:/);
  await page.close();
});

test('the unit switch changes what is read', async () => {
  const { page } = await open(demo);
  const text = () => page.$eval('tr[data-faces="state:0"]', (row) => row.innerText);
  const both = await text();
  await page.click('input[name=units][value=us]');
  const us = await text();
  await page.click('input[name=units][value=metric]');
  const metric = await text();
  assert.ok(both.includes('sq ft') && both.includes('m2'));
  assert.ok(us.includes('sq ft') && !us.includes('m2'));
  assert.ok(!metric.includes('sq ft') && metric.includes('m2'));
  await page.close();
});

test('measures, cuts and turns by mouse and by key', async () => {
  const { page, complaints } = await open(demo);
  await page.click('[data-view=front]');
  await page.click('#measure');
  await sampled(page);
  const box = await (await page.$('#view')).boundingBox();
  // Found by looking for the rock itself, not by where it ought to be.
  await page.mouse.click(box.x + box.width * 0.45, box.y + box.height * 0.5);
  await page.mouse.click(box.x + box.width * 0.65, box.y + box.height * 0.5);
  const said = await page.$eval('#said', (p) => p.textContent);
  assert.match(said, /^\d+ ft .*\(\d\.\d{3} m\): .* level, .* in height$/);
  await page.click('#measure');
  const whole = await sampled(page);
  await page.select('#cut-axis', '2');
  const cut = await sampled(page);
  assert.ok(differing(whole, cut) > 1000);
  assert.match(await page.$eval('#cut-said', (p) => p.textContent), /^4 ft \(1\.219 m\)$/);
  await page.focus('#view');
  await page.keyboard.press('ArrowLeft');
  assert.ok(differing(cut, await sampled(page)) > 500);
  assert.deepEqual(complaints, []);
  await page.close();
});

test('names from the model are data', async () => {
  const hostile = join(OUT, 'hostile.obj');
  const name = '<img src=x onerror=alert(1)>';
  writeFileSync(hostile, `o ${name}
v 0 0 0\nv 48 0 0\nv 48 30 0\nv 0 30 0\nv 0 0 60\nv 48 0 60\nv 48 30 60\nv 0 30 60
f 1 4 3 2\nf 5 6 7 8\nf 1 2 6 5
o </script><script>alert(2)</script>
f 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8
`);
  const path = report(hostile, '--units', 'in');
  const opened = await open(path);
  assert.deepEqual(await faults(opened), []);
  const text = await opened.page.$eval('#coat', (section) => section.innerText);
  assert.ok(text.includes(name) && text.includes('</script><script>alert(2)</script>'), text);
  await opened.page.close();

  const unescaped = await open(broken(path, /&lt;(img src=x onerror=alert\(1\))&gt;/g, '<$1>'));
  const found = await faults(unescaped);
  assert.ok(found.includes('a name became an element'), found.join('\n'));
  // Even then nothing runs: the page's own policy refuses it.
  assert.ok(found.some((f) => /Content Security Policy/.test(f)) && !found.some((f) => f.startsWith('dialog')), found.join('\n'));
  await unescaped.page.close();
});

/** A copy of a page, broken on purpose. */
function broken(path, part, by) {
  const whole = readFileSync(path, 'utf8'), other = whole.replace(part, by);
  assert.notEqual(whole, other);
  const copy = path.replace('.html', '-broken.html');
  writeFileSync(copy, other);
  return copy;
}

test('a broken page is found out', async () => {
  const ways = {
    'no canvas': [/<canvas id="view".*?<\/canvas>/, '', 'the view did not start'],
    'a fault in the script': ["'use strict';\n", "'use strict';\nnull.fault;\n", 'Content Security Policy'],
    'a fault in a script that may run': [/script-src [^;]*; /, "script-src 'unsafe-inline'; ", null],
    'a damaged mesh': [/(<script type="text\/plain" id="mesh">.{2000})...../, '$1!!!!!', 'the view did not start'],
    'a call home': [/(<section id="sent">)/, '$1<img src="https://example.invalid/pixel.png">', 'https://example.invalid/pixel.png'],
  };
  for (const [way, [part, by, expected]] of Object.entries(ways)) {
    let path = broken(demo, part, by);
    if (expected === null) path = broken(path, "'use strict';\n", "'use strict';\nnull.fault;\n");
    const opened = await open(path, { patience: 3000 });
    const found = await faults(opened);
    assert.ok(found.some((f) => f.includes(expected ?? 'error: ')), `${way}: ${found.join('; ')}`);
    await opened.page.close();
  }
});

test('what changed since an older revision is shown', async () => {
  // The same wall with a bulge of 6 in on its front, in binary STL: 84 bytes, then 50 a triangle, nine floats after twelve.
  const bytes = readFileSync(join(ROOT, 'fixtures/demo/grotto_wall.stl'));
  const at = [55, -45, 50];
  for (let t = 84; t < bytes.length; t += 50) {
    for (let k = 0; k < 3; k++) {
      const p = [0, 1, 2].map((axis) => bytes.readFloatLE(t + 12 + 12 * k + 4 * axis));
      const away = Math.hypot(p[0] - at[0], p[2] - at[2]) / 18;
      if (away < 1 && p[1] < -1) bytes.writeFloatLE(p[1] - 6 * (1 - away * away) ** 2, t + 12 + 12 * k + 4);
    }
  }
  const bulged = join(OUT, 'grotto_wall_c.stl');
  writeFileSync(bulged, bytes);
  const job = join(ROOT, 'fixtures/demo/grotto_wall.toml');
  const { page, complaints } = await open(report(bulged, '--against', job));
  assert.deepEqual(await faults({ page, complaints }), []);
  assert.match(await page.$eval('#changed', (section) => section.innerText), /changed: [\d.]+ sq ft .* in 1 place/);
  await page.click('input[name=colour][value=changes]');
  await page.click('[data-view=front]');
  const before = await sampled(page);
  await page.screenshot({ path: join(OUT, 'colour-changes.png') });
  assert.equal(await page.$$eval('.tag', (all) => all.filter((tag) => !tag.hidden).map((tag) => tag.textContent).join()), '1');
  await page.click('tr[data-faces="change:0"] td');
  assert.ok(differing(before, await sampled(page)) > 500);
  await page.close();
});

test('without WebGL the still pictures stand in', async () => {
  const { page } = await open(demo, { gl: false });
  assert.equal(await page.evaluate(() => document.body.dataset.ready), 'no');
  assert.equal(await page.$eval('.stage', (stage) => getComputedStyle(stage).display), 'none');
  const pictures = await page.$$eval('.stills img', (all) => all.map((img) => img.naturalWidth));
  assert.ok(pictures.length >= 6 && pictures.every((width) => width > 500), pictures.join());
  await page.close();
});

test('a phone reads it without scrolling sideways', async () => {
  const { page } = await open(demo, { width: 390, height: 844 });
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth) <= 390);
  await page.screenshot({ path: join(OUT, 'page-390.png') });
  await page.screenshot({ path: join(OUT, 'page-390-whole.png'), fullPage: true });
  await page.close();
});

test('it prints', async () => {
  const { page } = await open(demo);
  await page.pdf({ path: join(OUT, 'page-printed.pdf'), format: 'letter' });
  const text = execFileSync('pdftotext', ['-layout', join(OUT, 'page-printed.pdf'), '-']).toString();
  for (const title of ['How much', 'Where lath goes', 'Cautions']) assert.ok(text.includes(title));
  await page.close();
});
