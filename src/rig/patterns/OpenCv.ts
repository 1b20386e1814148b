/** What is used of OpenCV's JavaScript build; whoever holds the module hands it in, so that nothing here loads anything. */
export interface OpenCv {
  readonly Mat: new (rows?: number, columns?: number, type?: number) => CvMat;
  readonly MatVector: new () => CvMatVector;
  readonly Size: new (width: number, height: number) => unknown;
  readonly CV_8UC1: number;
  getPredefinedDictionary(kind: number): CvDictionary;
  readonly aruco_DetectorParameters: new () => CvDeletable & { cornerRefinementMethod: number };
  readonly aruco_RefineParameters: new (a: number, b: number, c: boolean) => CvDeletable;
  readonly aruco_CharucoParameters: new () => CvDeletable;
  readonly aruco_ArucoDetector: new (
    dictionary: CvDictionary,
    detector: unknown,
    refine: unknown,
  ) => CvDeletable & {
    detectMarkers(image: CvMat, corners: CvMatVector, ids: CvMat): void;
  };
  readonly aruco_CharucoBoard: new (
    size: unknown,
    square: number,
    marker: number,
    dictionary: CvDictionary,
    ids: CvMat,
  ) => CvDeletable;
  readonly aruco_CharucoDetector: new (
    board: unknown,
    charuco: unknown,
    detector: unknown,
    refine: unknown,
  ) => CvDeletable & { detectBoard(image: CvMat, corners: CvMat, ids: CvMat): void };
  exceptionFromPtr(pointer: number): { readonly msg: string };
  readonly [constant: `DICT_${string}`]: number;
}
interface CvDeletable {
  delete(): void;
}
export interface CvMat extends CvDeletable {
  readonly rows: number;
  readonly cols: number;
  readonly data: Uint8Array;
  readonly data32F: Float32Array;
  readonly data32S: Int32Array;
}
interface CvMatVector extends CvDeletable {
  size(): number;
  get(i: number): CvMat;
}
export interface CvDictionary extends CvDeletable {
  generateImageMarker(id: number, sidePx: number, image: CvMat, borderBits: number): void;
}
