import { createRequire } from 'node:module';
import type { OpenCv } from '../../rig/patterns/OpenCv.ts';

/**
 * OpenCV's JavaScript build, 15 MB: loaded only where a target has coded markers. As CommonJS, since its export is a
 * promise that an ESM import would take apart.
 */
export const loadOpenCv = async (): Promise<OpenCv> =>
  (await createRequire(import.meta.url)('@techstark/opencv-js')) as OpenCv;
