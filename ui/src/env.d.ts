declare module '@fontsource-variable/atkinson-hyperlegible-next/wght.css';
