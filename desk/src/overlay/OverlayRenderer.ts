import * as twgl from 'twgl.js';
import type { LookUpTable } from '../../../src/rig/lookUpTable.ts';
import type { OverlayDrawer, OverlayEvents, OverlayScene } from './OverlayScene.ts';
import {
  DOT_FRAGMENT,
  DOT_VERTEX,
  LINES_FRAGMENT,
  PICTURE_FRAGMENT,
  SHEET_VERTEX,
  SPLAT_FRAGMENT,
  SPLAT_VERTEX,
} from './shaders.ts';

/** The density as it stands on the GPU: node (i, j) is at colour pixel (left + (i + 0.5) texel, top + (j + 0.5) texel). */
export interface DensityReadBack {
  readonly columns: number;
  readonly rows: number;
  readonly leftPx: number;
  readonly topPx: number;
  readonly texelPx: number;
  /** Row by row, events per square colour pixel. */
  readonly values: Float32Array;
}

/** At four nodes a kernel the linear blend between nodes moves no line by more than 1 % of the kernel. */
const NODES_A_KERNEL = 4;
/** Where the kernel is 3e-4 of its peak; farther out it moves no line that is drawn. */
const REACH_KERNELS = 4;
const MOST_NODES = 2048;
const DOT_RADIUS_PX = 3.2;
/** As in the report: fewer events than this are all shown as dots, inside the lines too. */
const MOST_DOTS_INSIDE = 60;

/** Whether this browser has WebGL2 and draws into textures of floats: asked beside the stage, whose canvas is of one kind for good. */
export function canDrawOnGpu(): boolean {
  const gl = document.createElement('canvas').getContext('webgl2');
  const can = gl?.getExtension('EXT_color_buffer_float') != null;
  gl?.getExtension('WEBGL_lose_context')?.loseContext();
  return can;
}

/** The overlay on WebGL2. Throws where the browser has none, or cannot add up floats in a texture. */
export class OverlayRenderer implements OverlayDrawer {
  readonly kind = 'gpu';
  readonly #gl: WebGL2RenderingContext;
  readonly #splat: twgl.ProgramInfo;
  readonly #dot: twgl.ProgramInfo;
  readonly #picture: twgl.ProgramInfo;
  readonly #lines: twgl.ProgramInfo;
  readonly #sheet: twgl.BufferInfo;
  #events: { buffer: twgl.BufferInfo; array: twgl.VertexArrayInfo; dots: twgl.VertexArrayInfo; count: number } | null =
    null;
  #alreadyColour = false;
  #pictureTexture: WebGLTexture;
  #hasPicture = false;
  #pictureFrom: readonly [number, number] = [0, 0];
  #table: { valueSlope: WebGLTexture; square: WebGLTexture; about: LookUpTable } | null = null;
  #density: { texture: WebGLTexture; frame: WebGLFramebuffer; columns: number; rows: number } | null = null;
  readonly #densityFormat: 'R32F' | 'R16F';

  constructor(canvas: HTMLCanvasElement | OffscreenCanvas) {
    const gl = canvas.getContext('webgl2', {
      alpha: false,
      antialias: false,
      depth: false,
      powerPreference: 'high-performance',
    }) as WebGL2RenderingContext | null;
    if (!gl) throw new Error('This browser has no WebGL2.');
    if (!gl.getExtension('EXT_color_buffer_float')) throw new Error('This GPU cannot draw into float textures.');
    // Halves hold 2048 steps: enough to draw by where 32-bit floats cannot be added up.
    this.#densityFormat = gl.getExtension('EXT_float_blend') ? 'R32F' : 'R16F';
    this.#gl = gl;
    const program = (vertex: string, fragment: string): twgl.ProgramInfo =>
      twgl.createProgramInfo(gl, [vertex, fragment], (message) => {
        throw new Error(`The GPU refuses a shader: ${message}`);
      });
    this.#splat = program(SPLAT_VERTEX, SPLAT_FRAGMENT);
    this.#dot = program(DOT_VERTEX, DOT_FRAGMENT);
    this.#picture = program(SHEET_VERTEX, PICTURE_FRAGMENT);
    this.#lines = program(SHEET_VERTEX, LINES_FRAGMENT);
    this.#sheet = twgl.createBufferInfoFromArrays(gl, {
      corner: { numComponents: 2, data: new Float32Array([-1, -1, 1, -1, -1, 1, 1, 1]) },
    });
    this.#pictureTexture = twgl.createTexture(gl, { src: [0, 0, 0, 255], width: 1, height: 1, minMag: gl.LINEAR });
  }

  setTable(table: LookUpTable): void {
    const gl = this.#gl;
    const nodes = table.rows * table.columns;
    const valueSlope = new Float32Array(4 * nodes);
    const square = new Float32Array(2 * nodes);
    for (let i = 0; i < nodes; i++) {
      valueSlope.set(table.data.subarray(6 * i, 6 * i + 4), 4 * i);
      square.set(table.data.subarray(6 * i + 4, 6 * i + 6), 2 * i);
    }
    if (this.#table) for (const old of [this.#table.valueSlope, this.#table.square]) gl.deleteTexture(old);
    const size = { width: table.columns, height: table.rows, minMag: gl.NEAREST, wrap: gl.CLAMP_TO_EDGE, auto: false };
    this.#table = {
      valueSlope: twgl.createTexture(gl, { ...size, internalFormat: gl.RGBA32F, src: valueSlope }),
      square: twgl.createTexture(gl, { ...size, internalFormat: gl.RG32F, src: square }),
      about: table,
    };
  }

  setPicture(picture: ImageBitmap | null, leftPx: number, topPx: number): void {
    const gl = this.#gl;
    this.#hasPicture = picture !== null;
    this.#pictureFrom = [leftPx, topPx];
    if (!picture) return;
    gl.bindTexture(gl.TEXTURE_2D, this.#pictureTexture);
    gl.pixelStorei(gl.UNPACK_FLIP_Y_WEBGL, false);
    gl.pixelStorei(gl.UNPACK_ALIGNMENT, 4);
    gl.texImage2D(gl.TEXTURE_2D, 0, gl.RGBA8, gl.RGBA, gl.UNSIGNED_BYTE, picture);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.LINEAR);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_S, gl.CLAMP_TO_EDGE);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_WRAP_T, gl.CLAMP_TO_EDGE);
  }

  setEvents(events: OverlayEvents): void {
    const gl = this.#gl;
    if (this.#events)
      for (const attribute of Object.values(this.#events.buffer.attribs ?? {})) gl.deleteBuffer(attribute.buffer);
    if (this.#events)
      for (const array of [this.#events.array, this.#events.dots])
        if (array.vertexArrayObject) gl.deleteVertexArray(array.vertexArrayObject);
    this.#alreadyColour = events.alreadyColour;
    const buffer = twgl.createBufferInfoFromArrays(gl, {
      corner: { numComponents: 2, data: new Float32Array([-1, -1, 1, -1, -1, 1, 1, 1]) },
      // A buffer of length 0 is no buffer: one event outside every picture stands in, and count says it is none.
      px: { numComponents: 2, data: events.count > 0 ? events.px : new Float32Array(2), divisor: 1 },
      inverseRange: {
        numComponents: 1,
        data: events.count > 0 ? events.inverseRangePerM : new Float32Array(1),
        divisor: 1,
      },
    });
    this.#events = {
      buffer,
      array: twgl.createVertexArrayInfo(gl, this.#splat, buffer),
      dots: twgl.createVertexArrayInfo(gl, this.#dot, buffer),
      count: events.count,
    };
  }

  draw(scene: OverlayScene): void {
    const gl = this.#gl;
    const { view } = scene;
    const canvasSize = [gl.drawingBufferWidth, gl.drawingBufferHeight] as const;
    const ratio = canvasSize[0] / view.widthPx;
    const sheet = {
      uCentre: [view.centreU, view.centreV],
      uScale: view.scale * ratio,
      uCanvas: canvasSize,
    };
    const density = scene.lines && scene.levels.length > 0 ? this.#drawDensity(scene) : null;
    twgl.bindFramebufferInfo(gl, null);
    gl.viewport(0, 0, ...canvasSize);
    gl.disable(gl.BLEND);
    gl.useProgram(this.#picture.program);
    twgl.setBuffersAndAttributes(gl, this.#picture, this.#sheet);
    twgl.setUniforms(this.#picture, {
      ...sheet,
      uPicture: this.#pictureTexture,
      uPictureFrom: this.#pictureFrom,
      uHasPicture: this.#hasPicture,
      uBrightness: scene.brightness,
      uGround: scene.ground,
    });
    twgl.drawBufferInfo(gl, this.#sheet, gl.TRIANGLE_STRIP);
    gl.enable(gl.BLEND);
    gl.blendFunc(gl.ONE, gl.ONE_MINUS_SRC_ALPHA);
    if (scene.dots) this.#drawDots(scene, sheet, ratio, density);
    if (density) {
      gl.useProgram(this.#lines.program);
      twgl.setBuffersAndAttributes(gl, this.#lines, this.#sheet);
      twgl.setUniforms(this.#lines, {
        ...sheet,
        uDensity: density.texture,
        uWindowFrom: [density.leftPx, density.topPx],
        uTexelPx: density.texelPx,
        uLevels: Float32Array.from([0, 1, 2, 3], (i) => scene.levels[i] ?? 0),
        uLevelCount: Math.min(4, scene.levels.length),
        uLineWidth: 2.1 * ratio,
        uViolet: scene.violet,
        uHalo: scene.halo,
      });
      twgl.drawBufferInfo(gl, this.#sheet, gl.TRIANGLE_STRIP);
    }
  }

  /** Draws the density of a scene and reads it back: what the lines are made from, to the last bit. */
  readDensity(scene: OverlayScene): DensityReadBack {
    const gl = this.#gl;
    const { columns, rows, leftPx, topPx, texelPx, frame } = this.#drawDensity(scene);
    gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
    const rgba = new Float32Array(4 * columns * rows);
    gl.readPixels(0, 0, columns, rows, gl.RGBA, gl.FLOAT, rgba);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    return {
      columns,
      rows,
      leftPx,
      topPx,
      texelPx,
      values: Float32Array.from({ length: columns * rows }, (_, i) => rgba[4 * i]!),
    };
  }

  /** Waits until the GPU has drawn all it was given, for whoever measures. */
  finish(): void {
    this.#gl.readPixels(0, 0, 1, 1, this.#gl.RGBA, this.#gl.UNSIGNED_BYTE, new Uint8Array(4));
  }

  dispose(): void {
    this.#gl.getExtension('WEBGL_lose_context')?.loseContext();
  }

  #mapping(scene: OverlayScene): Record<string, unknown> {
    const table = this.#table;
    return {
      // Samplers must be bound even where the events are colour pixels already.
      uValueSlope: table?.valueSlope ?? this.#pictureTexture,
      uSquare: table?.square ?? this.#pictureTexture,
      uStepPx: table?.about.stepPx ?? 1,
      uInverseRangeAt: table?.about.inverseRangeAtPerM ?? 0,
      uInverseRange: scene.inverseRangePerM ?? -1,
      uAlreadyColour: this.#alreadyColour || !table,
    };
  }

  #drawDensity(scene: OverlayScene) {
    const gl = this.#gl;
    const { view, kernelPx } = scene;
    const widthPx = view.widthPx / view.scale;
    const heightPx = view.heightPx / view.scale;
    const texelPx = Math.max(kernelPx / NODES_A_KERNEL, 1 / view.scale, widthPx / MOST_NODES, heightPx / MOST_NODES);
    // One node beyond the window on either side, so that every pixel lies between nodes.
    const columns = Math.ceil(widthPx / texelPx) + 2;
    const rows = Math.ceil(heightPx / texelPx) + 2;
    const target = this.#densityTarget(columns, rows);
    const leftPx = view.centreU - (columns * texelPx) / 2;
    const topPx = view.centreV - (rows * texelPx) / 2;
    gl.bindFramebuffer(gl.FRAMEBUFFER, target.frame);
    gl.viewport(0, 0, columns, rows);
    gl.clearColor(0, 0, 0, 0);
    gl.clear(gl.COLOR_BUFFER_BIT);
    if (this.#events && this.#events.count > 0) {
      gl.enable(gl.BLEND);
      gl.blendFunc(gl.ONE, gl.ONE);
      gl.useProgram(this.#splat.program);
      gl.bindVertexArray(this.#events.array.vertexArrayObject ?? null);
      twgl.setUniforms(this.#splat, {
        ...this.#mapping(scene),
        uWindowFrom: [leftPx, topPx],
        uWindowSize: [columns * texelPx, rows * texelPx],
        uKernelPx: kernelPx,
        uReach: REACH_KERNELS,
        uPeak: 1 / (2 * Math.PI * kernelPx * kernelPx),
      });
      gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 4, this.#events.count);
      gl.bindVertexArray(null);
    }
    return { ...target, leftPx, topPx, texelPx };
  }

  #drawDots(
    scene: OverlayScene,
    sheet: Record<string, unknown>,
    ratio: number,
    density: { texture: WebGLTexture; leftPx: number; topPx: number; texelPx: number } | null,
  ): void {
    const gl = this.#gl;
    if (!this.#events || this.#events.count === 0) return;
    gl.useProgram(this.#dot.program);
    gl.bindVertexArray(this.#events.dots.vertexArrayObject ?? null);
    twgl.setUniforms(this.#dot, {
      ...this.#mapping(scene),
      ...sheet,
      uRadius: DOT_RADIUS_PX * ratio,
      uDensity: density?.texture ?? this.#pictureTexture,
      uWindowFrom: [density?.leftPx ?? 0, density?.topPx ?? 0],
      uTexelPx: density?.texelPx ?? 1,
      uHideAbove: density && this.#events.count > MOST_DOTS_INSIDE ? (scene.levels.at(-1) ?? 0) : 0,
      uViolet: scene.violet,
      uHalo: scene.halo,
    });
    gl.drawArraysInstanced(gl.TRIANGLE_STRIP, 0, 4, this.#events.count);
    gl.bindVertexArray(null);
  }

  #densityTarget(columns: number, rows: number) {
    const gl = this.#gl;
    if (this.#density?.columns === columns && this.#density.rows === rows) return this.#density;
    if (this.#density) {
      gl.deleteTexture(this.#density.texture);
      gl.deleteFramebuffer(this.#density.frame);
    }
    const texture = gl.createTexture()!;
    gl.bindTexture(gl.TEXTURE_2D, texture);
    gl.texStorage2D(gl.TEXTURE_2D, 1, gl[this.#densityFormat], columns, rows);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MIN_FILTER, gl.NEAREST);
    gl.texParameteri(gl.TEXTURE_2D, gl.TEXTURE_MAG_FILTER, gl.NEAREST);
    const frame = gl.createFramebuffer()!;
    gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
    gl.framebufferTexture2D(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.TEXTURE_2D, texture, 0);
    if (gl.checkFramebufferStatus(gl.FRAMEBUFFER) !== gl.FRAMEBUFFER_COMPLETE)
      throw new Error('This GPU cannot draw into float textures.');
    this.#density = { texture, frame, columns, rows };
    return this.#density;
  }
}
