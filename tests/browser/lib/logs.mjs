// Invented logs that strain the pages: nobody kept them, and no number in them is a finding about cane.
// Each is made from a fixed seed, so that a picture that looks wrong can be made again.

import { mkdir, writeFile } from "node:fs/promises";
import path from "node:path";

const SEED = 20250107;
const DAY = 24 * 3600 * 1000;
const FIRST_DAY = Date.UTC(2014, 8, 1);

/** Mulberry32, a generator of 32 bits of state, public domain (Tommy Ettinger). */
function chance(seed) {
  let state = seed >>> 0;
  const uniform = () => {
    state = (state + 0x6d2b79f5) >>> 0;
    let mixed = Math.imul(state ^ (state >>> 15), state | 1);
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61);
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 2 ** 32;
  };
  const normal = () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform());
  const oneOf = (choices) => choices[Math.floor(uniform() * choices.length)];
  return { uniform, normal, oneOf };
}

const dayAfter = (days) => new Date(FIRST_DAY + Math.round(days) * DAY).toISOString().slice(0, 10);
const clamped = (value, [low, high]) => Math.min(high, Math.max(low, value));

async function writeLog(folder, study, header, rows) {
  await mkdir(folder, { recursive: true });
  await writeFile(path.join(folder, "study.toml"), study);
  await writeFile(path.join(folder, "reeds.csv"), [header, ...rows].map((row) => row.join(",") + "\n").join(""));
}

/** Twelve reeds of two lots: less than most questions take. */
export function writeTiny(folder) {
  const { normal, oneOf } = chance(SEED);
  const header = ["reed", "lot", "started_on", "hardness", "forming_days", "scoring", "overall"];
  const rows = Array.from({ length: 12 }, (_, i) => [
    `T${i + 1}`,
    i < 7 ? "Reedmere" : "Marsh",
    dayAfter(9 * i),
    (18 + 3 * normal()).toFixed(1),
    oneOf([3, 7, 14]),
    oneOf(["lengthwise", "crosshatch"]),
    clamped(6 + 1.5 * normal(), [1, 10]).toFixed(1),
  ]);
  return writeLog(folder, 'title = "Twelve reeds"\nscale = [1, 10]\ngood_at = 6.5\nworthwhile = 0.5\noutcome = "overall"\n', header, rows);
}

const MEASURES = [
  ["tube_diameter_mm", 25.5, 0.6, 1],
  ["hardness", 18, 3, 1],
  ["density_g_cm3", 0.55, 0.03, 3],
  ["flex_mm", 4, 0.8, 2],
  // a range that the last digit of the gauge hardly resolves
  ["gouge_center_mm", 1.2712, 0.0004, 4],
  ["gouge_edge_mm", 1.02, 0.04, 2],
  ["shape_tip_mm", 14.5, 0.3, 2],
  ["forming_days", 180, 40, 0],
  ["forming_rh_pct", 45, 10, 0],
  // rooms below freezing
  ["forming_c", -2, 3, 1],
  ["soak_min", 400, 150, 0],
  ["wire_mm", 0.64, 0.04, 2],
  ["wire_1_mm", 1.6, 0.3, 1],
  ["tube_mm", 28.5, 0.5, 1],
  ["blade_mm", 27.5, 0.5, 1],
  ["length_mm", 55.5, 0.8, 1],
  ["tip_opening_mm", 1.2, 0.2, 2],
  ["scrape_min", 55, 15, 0],
];
const LONG = [
  "weight_of_the_blank_before_the_first_soaking_mg",
  "distance_between_first_and_second_wire_mm",
  "room_pressure_hpa",
  "turns_of_the_first_wire",
  "days_between_profile_and_tip",
  "pieces_since_the_blade_was_sharpened",
];
const CHOICES = {
  shape: ["narrow", "wide flare with rounded shoulders after the second teacher", "straight"],
  shaping: ["dry", "soaked"],
  scoring: ["lengthwise", "crosshatch", "none"],
  wrap: ["thread", "shrinking tube of the plumber's kind with glue inside"],
  sealant: ["none", "beeswax", "lacquer"],
  maker_s_helper: ["nobody", "the neighbour's daughter", "the second bassoon of the amateur orchestra"],
};
const WIDE_ROWS = 160;
const LOT_NAMES = ["Saltmarsh", "Nether Willow water meadow south of the mill", "W", "竹林沼泽二〇一九年冬季第一批", "Étang du Roseau rive gauche récolte tardive"];

/** Thirty factors, 25 lots with long names, ratings around zero, eleven years. */
export function writeWide(folder) {
  const { uniform, normal, oneOf } = chance(SEED + 1);
  const lots = Array.from({ length: 25 }, (_, i) => ({ name: `${LOT_NAMES[i % LOT_NAMES.length]} ${i + 1}`, shift: 0.5 * normal() }));
  const header = ["reed", "lot", "started_on", ...MEASURES.map(([name]) => name), ...LONG, ...Object.keys(CHOICES), "hours_played", "fate", "overall"];
  const rows = Array.from({ length: WIDE_ROWS }, (_, i) => {
    const lot = lots[Math.floor((i / WIDE_ROWS) * 20 + 5 * uniform())];
    const measured = MEASURES.map(([, mean, spread, digits]) => (mean + spread * normal()).toFixed(digits));
    const own = LONG.map(() => (500 + 100 * normal()).toFixed(0));
    const rated = clamped(lot.shift + 0.3 * (measured[1] - 18) / 3 + 0.8 * normal(), [-3, 3]).toFixed(1);
    const isSpoiled = uniform() < 0.12;
    const played = isSpoiled ? "" : (-18 * Math.log(1 - uniform())).toFixed(1);
    const fate = isSpoiled ? "spoiled" : oneOf(["worn_out", "worn_out", "in_use"]);
    return [`W${i + 1}`, lot.name, dayAfter((4000 * i) / WIDE_ROWS), ...measured, ...own, ...Object.values(CHOICES).map(oneOf), played, fate, isSpoiled ? "" : rated];
  });
  const ownColumns = [...LONG.map((name) => [name, "number"]), ["maker_s_helper", "choice"]].map(
    ([name, kind]) => `\n[columns.${name}]\nis = "${name}"\nstage = "form"\nkind = "${kind}"\n`,
  );
  const study = 'title = "Thirty factors and twenty-five lots"\nscale = [-3, 3]\ngood_at = 0.5\nworthwhile = 0.25\noutcome = "overall"\n';
  return writeLog(folder, study + ownColumns.join(""), header, rows);
}

/** As many rows as asked for, in lots of about 250, begun over eleven years. */
export function writeLarge(folder, size) {
  const { uniform, normal, oneOf } = chance(SEED + 2);
  const lots = Array.from({ length: Math.ceil(size / 250) }, (_, i) => ({ name: `Lot ${i + 1}`, shift: 0.6 * normal() }));
  const header = ["reed", "lot", "started_on", "hardness", "gouge_center_mm", "forming_days", "scoring", "hours_played", "fate", "overall"];
  const rows = Array.from({ length: size }, (_, i) => {
    const lot = lots[Math.floor((i / size) * lots.length)];
    const hardness = 18 + 3 * normal();
    const gouge = 1.28 + 0.03 * normal();
    const isSpoiled = uniform() < 0.1;
    const rated = clamped(6.5 + lot.shift - 0.15 * (hardness - 18) + normal(), [1, 10]).toFixed(1);
    const played = isSpoiled ? "" : (-20 * Math.log(1 - uniform())).toFixed(1);
    const fate = isSpoiled ? "spoiled" : oneOf(["worn_out", "worn_out", "in_use"]);
    const made = [hardness.toFixed(1), gouge.toFixed(3), oneOf([3, 7, 10, 14, 21]), oneOf(["lengthwise", "crosshatch", "none"])];
    return [i + 1, lot.name, dayAfter((4000 * i) / size), ...made, played, fate, isSpoiled ? "" : rated];
  });
  return writeLog(folder, 'title = "A workshop beyond one life"\nscale = [1, 10]\ngood_at = 6.5\nworthwhile = 0.5\noutcome = "overall"\n', header, rows);
}
