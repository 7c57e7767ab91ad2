import '@fontsource-variable/source-sans-3/wght.css';
import './look/tokens.css';
import './look/base.css';
import { mount } from 'svelte';
import App from './App.svelte';
import { NO_CONNECTION, Refused } from './bridge/bridge';
import { openBridge } from './bridge/open';
import { Looks } from './look/looks.svelte';
import Closed from './shell/Closed.svelte';
import { words } from './words/words';

document.documentElement.lang = words.locale;
// Before anything is drawn, so that nothing flickers.
const looks = new Looks(document.documentElement);

const target = document.getElementById('app');
if (target) {
  openBridge().then(
    (bridge) => mount(App, { target, props: { bridge, looks } }),
    (error: unknown) => {
      const lost = error instanceof Refused && error.problem.code === NO_CONNECTION;
      mount(Closed, { target, props: { lost } });
    },
  );
}
