// The same entries through Chipfall and through general-purpose libraries. See README.md.
// node measure.mjs WORK_FOLDER PEER_DEVICE CHIPFALL_HUB ENTRIES
import {execFileSync, spawn} from 'node:child_process';
import {once} from 'node:events';
import fs from 'node:fs';
import https from 'node:https';
import net from 'node:net';
import path from 'node:path';
import {fileURLToPath} from 'node:url';

const sides = path.join(path.dirname(fileURLToPath(import.meta.url)), 'sides.mjs');
const [work, device, hub, count] = process.argv.slice(2);
const entries = Number(count);
const file = name => path.join(work, name);
const run = (program, words) => execFileSync(program, words, {
  encoding: 'utf8', maxBuffer: 1 << 26, stdio: ['ignore', 'pipe', 'pipe']});
const told = (program, words) => JSON.parse(run(program, words));
const side = (...words) => told(process.execPath, ['--expose-gc', sides, ...words]);
const nap = ms => new Promise(done => setTimeout(done, ms));

/// Passes connections on and counts the bytes of both directions.
async function counting_relay(to) {
  const counts = {bytes: 0};
  const server = net.createServer(left => {
    const right = net.connect(to, '127.0.0.1');
    for (const [from, into] of [[left, right], [right, left]]) {
      from.on('data', some => { counts.bytes += some.length; into.write(some); });
      from.on('end', () => into.end());
      from.on('error', () => into.destroy());
    }
  });
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  return {counts, port: server.address().port, close: () => server.close()};
}

const metrics = port => new Promise((done, failed) => {
  https.get({port, host: '127.0.0.1', path: '/metrics', rejectUnauthorized: false}, answer => {
    let text = '';
    answer.on('data', some => { text += some; });
    answer.on("end", () => done(name =>
      Number(new RegExp(`^chipfall_hub_${name} (\\S+)$`, "m").exec(text)[1])));
  }).on("error", failed);
});

async function chipfall() {
  const made = told(device, ['make', file('own.ledger'), file('entries.jsonl'), '--entries', count]);
  const served = spawn(hub, ['serve', '--data', file('hub'), '--bind', '127.0.0.1', '--port', '0',
    '--address', '127.0.0.1'], {stdio: ['ignore', 'pipe', 'inherit']});
  let port = 0;
  served.stdout.on('data', text => { port ||= Number(/ port=(\d+)/.exec(text)?.[1] ?? 0); });
  for (let waited = 0; port === 0 && waited < 10_000; waited += 20) await nap(20);
  try {
    const code = () => run(hub, ['join-code', '--data', file('hub'), '--role', 'coordinator',
      '--address', '127.0.0.1', '--no-qr']).trim();
    const pushed = told(device, ['sync', file('own.ledger'), code()]);
    const between = await metrics(port);
    const pulled = told(device, ['sync', file('fresh.ledger'), code()]);
    const after = await metrics(port);
    if (pulled.entries !== entries) throw new Error(`${pulled.entries} arrived`);
    const sum = read => read('received_bytes_total') + read('sent_bytes_total');
    return {what: 'Chipfall, its hub over TLS', record_s: made.seconds, give_s: pushed.seconds,
      take_s: pulled.seconds, wire: (sum(after) - sum(between)) / entries,
      stored: fs.statSync(file('fresh.ledger')).size / entries, peak_mb: pulled.peak_kb / 1024};
  } finally {
    served.kill('SIGTERM');
    await once(served, 'exit');
  }
}

const bytes_in = folder => fs.readdirSync(folder, {recursive: true}).reduce(
  (sum, name) => sum + fs.statSync(path.join(folder, name)).size, 0);

async function pouch() {
  const served = spawn(process.execPath, [sides, 'pouch-hub', file('pouch-hub')],
    {stdio: ['ignore', 'pipe', 'inherit']});
  const [line] = await once(served.stdout, 'data');
  const relay = await counting_relay(Number(line));
  const at = `http://127.0.0.1:${relay.port}/shop`;
  // Not synchronously: the relay works in this process.
  const ask = (...words) => new Promise((done, failed) => {
    let text = '';
    const child = spawn(process.execPath, [sides, ...words], {stdio: ['ignore', 'pipe', 'inherit']});
    child.stdout.on('data', some => { text += some; });
    child.on('exit', status => status === 0 ? done(JSON.parse(text)) : failed(new Error(words[0])));
  });
  try {
    const made = await ask('pouch-make', file('pouch-own'), file('entries.jsonl'));
    const pushed = await ask('pouch-give', file('pouch-own'), at);
    const before = relay.counts.bytes;
    const pulled = await ask('pouch-take', file('pouch-fresh'), at);
    if (pulled.entries !== entries) throw new Error(`${pulled.entries} arrived`);
    return {what: 'PouchDB, express-pouchdb', record_s: made.seconds, give_s: pushed.seconds,
      take_s: pulled.seconds, wire: (relay.counts.bytes - before) / entries,
      stored: bytes_in(file('pouch-fresh')) / entries, peak_mb: pulled.peak_kb / 1024};
  } finally {
    served.kill('SIGTERM');
    relay.close();
  }
}

/// A document that is handed over whole: no hub, no network.
function document(what, name) {
  const made = side(`${name}-make`, file('entries.jsonl'), file(name));
  const taken = side(`${name}-take`, file(name));
  if (taken.entries !== entries) throw new Error(`${taken.entries} arrived`);
  const size = fs.statSync(file(name)).size / entries;
  return {what, record_s: made.record_s, give_s: made.give_s, take_s: taken.seconds, wire: size,
    stored: size, peak_mb: taken.peak_kb / 1024};
}

const rows = [await chipfall(), await pouch(),
  document('Automerge, a whole document', 'automerge'), document('Yjs, a whole document', 'yjs')];
const columns = [['record_s', 'record s', 2], ['give_s', 'give s', 2], ['take_s', 'take s', 2],
  ['wire', 'wire B/entry', 1], ['stored', 'stored B/entry', 0], ['peak_mb', 'peak MB', 0]];
console.log(`${entries} entries; x: times Chipfall`);
console.log('library'.padEnd(29) + columns.map(([, title]) => title.padStart(20)).join(''));
for (const row of rows) {
  console.log(row.what.padEnd(29) + columns.map(([key, , digits]) => {
    const ratio = row[key] / rows[0][key];
    const times = row === rows[0] ? '' : ` ${ratio.toFixed(ratio < 10 ? 1 : 0)}x`;
    return `${row[key].toFixed(digits)}${times}`.padStart(20);
  }).join(''));
}
