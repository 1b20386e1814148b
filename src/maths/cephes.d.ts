// The package's own types cannot be reached through its exports map; these are the functions used here.
declare module 'cephes' {
  const cephes: {
    readonly compiled: Promise<void>;
    ndtr(x: number): number;
    ndtri(p: number): number;
    /** Upper tail of chi-square. */
    chdtrc(df: number, x: number): number;
    /** Inverse of the upper tail. */
    chdtri(df: number, upperTail: number): number;
    igam(a: number, x: number): number;
    igamc(a: number, x: number): number;
    incbet(a: number, b: number, x: number): number;
    lgam(x: number): number;
  };
  export default cephes;
}
