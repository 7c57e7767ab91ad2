import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';

export default defineConfig({
  // Relative addresses work both in the desktop window and under the local web address.
  base: './',
  plugins: [svelte()],
  build: {
    target: ['es2022', 'safari16'],
    // The content security policy allows no data: fonts or scripts; every asset is a file.
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
  },
  environments: {
    // The page for a phone is built apart: it shares no file with the screens, and takes in only what it needs.
    phone: { consumer: 'client', build: { outDir: 'dist/phone', copyPublicDir: false, rolldownOptions: { input: 'phone.html' } } },
  },
  builder: {
    async buildApp(builder) {
      // One after the other: the first empties `dist`.
      for (const name of ['client', 'phone']) {
        const environment = builder.environments[name];
        if (environment) await builder.build(environment);
      }
    },
  },
  test: { include: ['src/**/*.test.ts'], environment: 'node' },
});
