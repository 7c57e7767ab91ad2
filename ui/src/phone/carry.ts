import type { Carry } from './link';

/** How long a question may be without any sign of life: a large page takes a while to be measured. */
const QUIET_MS = 90_000;

/** Carries questions by the browser's older way, the only one that tells how much has been sent. */
export const carry: Carry = (question, sent) =>
  new Promise((answered, lost) => {
    const request = new XMLHttpRequest();
    let quiet = 0;
    const alive = () => {
      clearTimeout(quiet);
      quiet = window.setTimeout(() => request.abort(), QUIET_MS);
    };
    request.open('POST', '/sealed');
    request.responseType = 'arraybuffer';
    request.setRequestHeader('content-type', 'application/octet-stream');
    request.upload.onprogress = ({ loaded, total }) => {
      alive();
      sent(total > 0 ? loaded / total : 0);
    };
    request.upload.onload = () => sent(1);
    request.onprogress = alive;
    request.onloadend = () => {
      clearTimeout(quiet);
      const body: unknown = request.response;
      if (request.status === 0) lost(new Error('nobody answers'));
      else answered({ status: request.status, body: new Uint8Array(body instanceof ArrayBuffer ? body : new ArrayBuffer(0)) });
    };
    alive();
    request.send(question);
  });
