// Loads exported job documents and prints what stands in them as JSON, one line a document, for the test to compare.
//
//     node check.mjs FOLDER
//
// FOLDER is what `gladhand export --automerge FOLDER` wrote: documents, and jobs.json that lists them.

import { readFileSync } from "node:fs";
import { join } from "node:path";
import * as Automerge from "@automerge/automerge";

// A text scalar comes as an object of its own in some versions, so that it is not taken for editable text, and a large whole
// number as a BigInt.
function plain(value) {
  if (typeof value === "bigint") {
    return Number(value);
  }
  const isText = Automerge.isImmutableString?.(value) ?? Automerge.isRawString?.(value) ?? false;
  return isText ? value.toString() : value;
}

// All values that were set side by side, in no particular order.
function allValues(map, name) {
  const conflicts = Automerge.getConflicts(map, name);
  const values = conflicts === undefined ? [map[name]] : Object.values(conflicts);
  return values.map(plain);
}

function describe(bytes) {
  const doc = Automerge.load(bytes);
  const fields = {};
  for (const name of Object.keys(doc.fields)) {
    fields[name] = allValues(doc.fields, name);
  }
  // What this implementation saves must be the same history again.
  const again = Automerge.load(Automerge.save(doc));
  return {
    job: plain(doc.job),
    heads: Automerge.getHeads(doc).sort(),
    heads_saved_again: Automerge.getHeads(again).sort(),
    changes: Automerge.getAllChanges(doc).length,
    fields,
    facts: Object.values(doc.facts).map(plain),
  };
}

const folder = process.argv[2];
for (const { file } of JSON.parse(readFileSync(join(folder, "jobs.json"), "utf8"))) {
  console.log(JSON.stringify({ file, ...describe(new Uint8Array(readFileSync(join(folder, file)))) }));
}
