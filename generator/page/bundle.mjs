/**
 * Bundles the page's program into the package: `node bundle.mjs`, and `--check` tells whether
 * what is there is what the sources give.
 */

import { readFileSync, writeFileSync } from 'node:fs';
import { build } from 'esbuild';

const OUT = new URL('../reedmill/page/assets/page.js', import.meta.url);
const common = { bundle: true, minify: true, write: false, charset: 'ascii', target: ['es2022'], legalComments: 'none' };
const here = new URL('src/', import.meta.url).pathname;

const worklet = await build({ ...common, entryPoints: [`${here}worklet.js`], format: 'iife' });
const asText = {
  name: 'worklet',
  /** @param {import('esbuild').PluginBuild} build */
  setup(build) {
    build.onResolve({ filter: /^reedmill:worklet$/ }, () => ({ path: 'worklet', namespace: 'text' }));
    build.onLoad({ filter: /.*/, namespace: 'text' }, () => ({ contents: worklet.outputFiles[0].text, loader: 'text' }));
  },
};
const whole = await build({ ...common, entryPoints: [`${here}app.js`], format: 'iife', plugins: [asText] });
const text = whole.outputFiles[0].text.replaceAll('</script', '<\\/script');

if (process.argv.includes('--check')) {
  if (readFileSync(OUT, 'utf8') !== text) {
    console.error('The bundle is not what the sources give: run node bundle.mjs.');
    process.exit(1);
  }
} else {
  writeFileSync(OUT, text);
}
