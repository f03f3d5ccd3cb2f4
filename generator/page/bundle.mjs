/**
 * Bundles the programs of pages and packs into the package: `node bundle.mjs`, and `--check` tells
 * whether what is there is what the sources give. `bundled.json` has the digests of both, by which
 * a test without esbuild knows whether they belong together.
 */

import { createHash } from 'node:crypto';
import { existsSync, readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { build } from 'esbuild';

const PACKAGE = new URL('../reedmill/', import.meta.url);
const common = { bundle: true, minify: true, write: false, charset: 'ascii', target: ['es2022'], legalComments: 'none', format: 'iife' };
const here = new URL('.', import.meta.url).pathname;

/** @param {string} source @param {import('esbuild').Plugin[]} [plugins] */
async function bundled(source, plugins = []) {
  const made = await build({ ...common, entryPoints: [here + source], plugins });
  return made.outputFiles[0].text.replaceAll('</script', '<\\/script');
}

const worklet = await bundled('src/worklet.js');
const asText = {
  name: 'worklet',
  /** @param {import('esbuild').PluginBuild} build */
  setup(build) {
    build.onResolve({ filter: /^reedmill:worklet$/ }, () => ({ path: 'worklet', namespace: 'text' }));
    build.onLoad({ filter: /.*/, namespace: 'text' }, () => ({ contents: worklet, loader: 'text' }));
  },
};
const bundles = {
  'page/assets/page.js': await bundled('src/app.js', [asText]),
  'pack/site/assets/offline.js': await bundled('offline/worker.js'),
  'pack/site/assets/install.js': await bundled('offline/install.js'),
};

/** @param {string | Buffer} content */
const digest = (content) => createHash('sha256').update(content).digest('hex');
const sources = ['src', 'offline'].flatMap((folder) => readdirSync(here + folder, { encoding: 'utf8', recursive: true }).filter((name) => name.endsWith('.js')).map((name) => `${folder}/${name}`));
const told = {
  sources: Object.fromEntries(sources.sort().map((path) => [path, digest(readFileSync(here + path))])),
  bundles: Object.fromEntries(Object.entries(bundles).map(([path, text]) => [path, digest(text)])),
};
const files = { ...bundles, '../page/bundled.json': `${JSON.stringify(told, null, 1)}\n` };

for (const [path, text] of Object.entries(files)) {
  const out = new URL(path, PACKAGE);
  if (!process.argv.includes('--check')) {
    writeFileSync(out, text);
  } else if (!existsSync(out) || readFileSync(out, 'utf8') !== text) {
    console.error(`${path} is not what the sources give: run node bundle.mjs.`);
    process.exitCode = 1;
  }
}
