import '@fontsource-variable/atkinson-hyperlegible-next/wght.css';
import './look/tokens.css';
import './look/base.css';
import { mount } from 'svelte';
import App from './App.svelte';

const target = document.getElementById('app');
if (target) mount(App, { target });
