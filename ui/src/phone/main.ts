import '../look/tokens.css';
import '../look/base.css';
import { mount } from 'svelte';
import { carry } from './carry';
import { codeOf, Link, type Memory } from './link';
import Phone from './Phone.svelte';

/** Lasts as long as the tab, even where the system throws the page out while the camera is open. */
function memory(): Memory {
  try {
    return sessionStorage;
  } catch {
    return { getItem: () => null, setItem: () => undefined, removeItem: () => undefined };
  }
}

const code = codeOf(location.hash);
// The code leaves the address bar and the history before anything else happens.
if (location.hash !== '') history.replaceState(null, '', location.pathname);
const target = document.getElementById('app');
if (target) mount(Phone, { target, props: { link: Link.from(code, memory(), carry) } });
