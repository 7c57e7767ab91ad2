import { svelte } from '@sveltejs/vite-plugin-svelte';
import { defineConfig } from 'vitest/config';

/** Tests that mount components. */
const MOUNTED = 'src/**/*.mounted.test.ts';

/** Mounted components in the language that an address asks for. */
const mounted = (name: string, url: string) => ({
  extends: true as const,
  // Without it Svelte is taken for a server's.
  resolve: { conditions: ['browser'] },
  test: { name, include: [MOUNTED], environment: 'happy-dom', environmentOptions: { happyDOM: { url } } },
});

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
  test: {
    projects: [
      { extends: true, test: { name: 'alone', include: ['src/**/*.test.ts'], exclude: [MOUNTED], environment: 'node' } },
      // What people see and hear of a component, in every language that there is a catalogue for and in that for tests.
      mounted('screens', 'http://localhost/'),
      mounted('screens, pseudo', 'http://localhost/?pseudo'),
    ],
  },
});
