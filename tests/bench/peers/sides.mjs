// One process of one library: what it does is timed here and printed as JSON.
import fs from 'node:fs';

const [what, ...words] = process.argv.slice(2);
const seconds_since = began => (performance.now() - began) / 1e3;
const read = name => fs.readFileSync(name, 'utf8').trimEnd().split('\n').map(line => JSON.parse(line));
const tell = said => console.log(JSON.stringify({...said,
  peak_kb: process.resourceUsage().maxRSS}));

const sides = {
  async 'pouch-hub'(folder) {
    const {default: PouchDB} = await import('pouchdb');
    const {default: express} = await import('express');
    const {default: serve} = await import('express-pouchdb');
    fs.mkdirSync(folder);
    const app = express();
    app.use('/', serve(PouchDB.defaults({prefix: `${folder}/`}), {inMemoryConfig: true,
      mode: 'minimumForPouchDB', logPath: `${folder}/log`}));
    const server = app.listen(0, '127.0.0.1', () => console.log(server.address().port));
  },
  async 'pouch-make'(folder, json) {
    const {default: PouchDB} = await import('pouchdb');
    const entries = read(json);
    const pouch = new PouchDB(folder);
    await pouch.info();
    const began = performance.now();
    for (const entry of entries) {
      await pouch.put({_id: `${entry.device}-${entry.sequence}`, ...entry});
    }
    tell({seconds: seconds_since(began)});
    await pouch.close();
  },
  async 'pouch-give'(folder, at) {
    const {default: PouchDB} = await import('pouchdb');
    const pouch = new PouchDB(folder);
    const began = performance.now();
    await pouch.replicate.to(at);
    tell({seconds: seconds_since(began)});
    await pouch.close();
  },
  async 'pouch-take'(folder, at) {
    const {default: PouchDB} = await import('pouchdb');
    const pouch = new PouchDB(folder);
    const began = performance.now();
    await pouch.replicate.from(at);
    const seconds = seconds_since(began);
    tell({seconds, entries: (await pouch.info()).doc_count});
    await pouch.close();
  },
  async 'automerge-make'(json, to) {
    const Automerge = await import('@automerge/automerge');
    const entries = read(json);
    let began = performance.now();
    let shop = Automerge.from({entries: []});
    for (const entry of entries) shop = Automerge.change(shop, now => { now.entries.push(entry); });
    const record_s = seconds_since(began);
    began = performance.now();
    fs.writeFileSync(to, Automerge.save(shop));
    tell({record_s, give_s: seconds_since(began)});
  },
  async 'automerge-take'(from) {
    const Automerge = await import('@automerge/automerge');
    const bytes = fs.readFileSync(from);
    const began = performance.now();
    const shop = Automerge.load(bytes);
    tell({seconds: seconds_since(began), entries: shop.entries.length});
  },
  async 'yjs-make'(json, to) {
    const Y = await import('yjs');
    const entries = read(json);
    let began = performance.now();
    const shop = new Y.Doc();
    const list = shop.getArray('entries');
    for (const entry of entries) list.push([entry]);
    const record_s = seconds_since(began);
    began = performance.now();
    fs.writeFileSync(to, Y.encodeStateAsUpdateV2(shop));
    tell({record_s, give_s: seconds_since(began)});
  },
  async 'yjs-take'(from) {
    const Y = await import('yjs');
    const bytes = fs.readFileSync(from);
    const began = performance.now();
    const shop = new Y.Doc();
    Y.applyUpdateV2(shop, bytes);
    tell({seconds: seconds_since(began), entries: shop.getArray('entries').length});
  },
};

await sides[what](...words);
