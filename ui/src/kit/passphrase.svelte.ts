/** A new passphrase, typed twice: a slip in it would lock its owner out. */
export class NewPassphrase {
  first = $state('');
  again = $state('');

  get same(): boolean {
    return this.first !== '' && this.first === this.again;
  }

  /** Whether the second one cannot become the first any more by typing on. */
  get differs(): boolean {
    return !this.first.startsWith(this.again);
  }

  clear(): void {
    this.first = '';
    this.again = '';
  }
}
