// One worker of the scaling measurement: a photon finder of its own on frames in shared memory, nothing cloned.
import { parentPort, workerData } from 'node:worker_threads';
import { PhotonEventsBuilder } from '../../dist/photon/PhotonEventsBuilder.js';
import { startPhotonFinder } from '../../dist/photon/photonFinder.js';

const { camera, shared, count } = workerData;
const pixels = camera.widthPx * camera.heightPx;
const frames = Array.from({ length: count }, (_, k) => ({
  widthPx: camera.widthPx,
  heightPx: camera.heightPx,
  data: new Uint8Array(shared, k * pixels, pixels),
}));
const finder = startPhotonFinder(camera);
finder.learnFrom(frames);
const events = new PhotonEventsBuilder(4096);
let t = 0;
parentPort.on('message', (toDo) => {
  for (let k = 0; k < toDo; k++) {
    if (k % count === 0) events.clear();
    finder.addInto(events, frames[k % count], { frame: t, tNs: t++ * 2e7, gain: 6 });
  }
  parentPort.postMessage('done');
});
parentPort.postMessage('ready');
