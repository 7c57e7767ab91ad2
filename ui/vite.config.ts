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
  test: { include: ['src/**/*.test.ts'], environment: 'node' },
});
