// Where things lie. The review folder is the one that `.ci/run` writes unless CANEWRIGHT_REVIEW names another.

import { execFile } from "node:child_process";
import { existsSync } from "node:fs";
import path from "node:path";
import { fileURLToPath } from "node:url";
import { promisify } from "node:util";

export const ROOT = fileURLToPath(new URL("../../..", import.meta.url));
export const CHROMIUM = process.env.CHROMIUM ?? "/usr/bin/chromium";
const PROGRAM = process.env.CANEWRIGHT ?? path.join(ROOT, "target/debug/canewright");

export function reviewFolder() {
  const folder = process.env.CANEWRIGHT_REVIEW ?? path.join(ROOT, "target/ci/review");
  if (!existsSync(path.join(folder, "review.html"))) {
    throw new Error(`${folder} holds no review.html: run \`cargo run -- review datasets/demo --out target/ci/review\` first`);
  }
  return path.resolve(folder);
}

// Exit status 1 means answers given although cells of the log are in error, which the messy log is made for.
export async function canewright(...args) {
  try {
    return (await promisify(execFile)(PROGRAM, args, { maxBuffer: 64e6 })).stdout;
  } catch (error) {
    if (error.code === 1) return error.stdout;
    throw new Error(`canewright ${args.join(" ")} failed: ${error.stderr ?? error.message}`);
  }
}
