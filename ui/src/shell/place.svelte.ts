import { hrefOf, readRoute, type Route } from './route';

/** The place on screen, kept in step with the address. */
export class Place {
  route = $state.raw<Route>(readRoute(location.hash));
  /** Whether a person has moved yet; before that the page's own start keeps the focus. */
  moved = $state(false);

  constructor() {
    window.addEventListener('hashchange', () => {
      this.moved = true;
      this.route = readRoute(location.hash);
      window.scrollTo(0, 0);
    });
  }

  go(route: Route): void {
    location.hash = hrefOf(route);
  }
}
