import { problemOf } from '../bridge/asked.svelte';
import type { Bridge } from '../bridge/bridge';
import { Doing } from '../bridge/doing.svelte';
import type { CarryOpened, Problem, PupilId } from '../bridge/types';
import { toBase64 } from '../kit/base64';
import { binaryFile } from '../kit/saveFile';

/** What came of one file that was chosen: what it brought, or why it was not taken. */
export type Opening = { file: string } & ({ brought: CarryOpened } | { problem: Problem });

/** No file that the program makes is larger; of anything longer the start is enough to refuse it. */
const MOST_BYTES = 65 << 20;

/** Files that go between devices which do not meet. */
export class Carrying {
  made = $state.raw<File[] | null>(null);
  openings = $state.raw<Opening[]>([]);
  readonly making = new Doing();
  readonly opening = new Doing();

  constructor(readonly bridge: Bridge) {}

  /** Makes the files about a pupil, for all other devices that belong. */
  async make(pupil: PupilId): Promise<void> {
    await this.making.run(async () => {
      this.made = null;
      const { files } = await this.bridge.call('make_carry', { pupil, to: null, partBytes: null });
      this.made = files.map(binaryFile);
    });
  }

  /** Opens files one after another; one that is not taken holds up none of the others. */
  async open(files: readonly File[]): Promise<void> {
    await this.opening.run(async () => {
      this.openings = [];
      for (const file of files) this.openings = [...this.openings, await this.#open(file)];
    });
  }

  async #open(file: File): Promise<Opening> {
    try {
      const bytes = new Uint8Array(await file.slice(0, MOST_BYTES).arrayBuffer());
      const brought = await this.bridge.call('open_carry', { base64: toBase64(bytes) });
      return { file: file.name, brought };
    } catch (error) {
      return { file: file.name, problem: problemOf(error) };
    }
  }
}
