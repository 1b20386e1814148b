// GLSL ES 3.00. Pixel (0, 0) is the centre of the first pixel, v downwards, as everywhere else.

/** The table's look-up, as `lookUp` in src/rig does it: bilinear between nodes, a parabola in inverse range at each. */
const COLOUR_FROM_UV = `
uniform highp sampler2D uValueSlope;
uniform highp sampler2D uSquare;
uniform float uStepPx;
uniform float uInverseRangeAt;
uniform float uInverseRange; // below 0: each event's own
uniform bool uAlreadyColour;
vec2 colourFromUv(vec2 uv, float ownInverseRange) {
  if (uAlreadyColour) return uv;
  ivec2 last = textureSize(uValueSlope, 0) - 2;
  vec2 g = uv / uStepPx;
  ivec2 node = clamp(ivec2(floor(g)), ivec2(0), last);
  vec2 f = g - vec2(node);
  float d = (uInverseRange < 0.0 ? ownInverseRange : uInverseRange) - uInverseRangeAt;
  vec2 sum = vec2(0.0);
  for (int j = 0; j < 2; j++)
    for (int i = 0; i < 2; i++) {
      float w = (i == 0 ? 1.0 - f.x : f.x) * (j == 0 ? 1.0 - f.y : f.y);
      vec4 a = texelFetch(uValueSlope, node + ivec2(i, j), 0);
      vec2 b = texelFetch(uSquare, node + ivec2(i, j), 0).xy;
      sum += w * (a.xy + d * (a.zw + d * b));
    }
  return sum;
}
bool mapped(vec2 p) { return !(isnan(p.x) || isnan(p.y) || isinf(p.x) || isinf(p.y)); }
`;

export const SPLAT_VERTEX = `#version 300 es
precision highp float;
in vec2 corner; // -1 to 1
in vec2 px;
in float inverseRange;
uniform vec2 uWindowFrom; // colour pixels
uniform vec2 uWindowSize;
uniform float uKernelPx;
uniform float uReach; // in kernels
out vec2 vAway;
${COLOUR_FROM_UV}
void main() {
  vec2 p = colourFromUv(px, inverseRange);
  vAway = corner * uReach;
  if (!mapped(p)) { gl_Position = vec4(2.0, 2.0, 2.0, 1.0); return; }
  vec2 at = (p + corner * uReach * uKernelPx - uWindowFrom) / uWindowSize;
  gl_Position = vec4(at * 2.0 - 1.0, 0.0, 1.0);
}`;

export const SPLAT_FRAGMENT = `#version 300 es
precision highp float;
in vec2 vAway;
uniform float uPeak;
out vec4 density;
void main() { density = vec4(uPeak * exp(-0.5 * dot(vAway, vAway)), 0.0, 0.0, 1.0); }`;

export const DOT_VERTEX = `#version 300 es
precision highp float;
in vec2 corner;
in vec2 px;
in float inverseRange;
uniform vec2 uCentre;
uniform float uScale; // device pixels a colour pixel
uniform vec2 uCanvas; // device pixels
uniform float uRadius; // device pixels
// Dots inside the lines say nothing that the lines do not, and would hide the hardware. Level 0: every dot is drawn.
uniform highp sampler2D uDensity;
uniform vec2 uWindowFrom;
uniform float uTexelPx;
uniform float uHideAbove;
out vec2 vAway;
${COLOUR_FROM_UV}
void main() {
  vec2 p = colourFromUv(px, inverseRange);
  vAway = corner * uRadius;
  bool hidden = !mapped(p);
  if (!hidden && uHideAbove > 0.0) {
    ivec2 node = ivec2(floor((p - uWindowFrom) / uTexelPx));
    ivec2 size = textureSize(uDensity, 0);
    if (all(greaterThanEqual(node, ivec2(0))) && all(lessThan(node, size)))
      hidden = texelFetch(uDensity, node, 0).r > uHideAbove;
  }
  if (hidden) { gl_Position = vec4(2.0, 2.0, 2.0, 1.0); return; }
  vec2 at = ((p - uCentre) * uScale + corner * uRadius) / (0.5 * uCanvas);
  gl_Position = vec4(at.x, -at.y, 0.0, 1.0);
}`;

export const DOT_FRAGMENT = `#version 300 es
precision highp float;
in vec2 vAway;
uniform float uRadius;
uniform vec3 uViolet;
uniform vec3 uHalo;
out vec4 colour;
void main() {
  float r = length(vAway);
  float inner = 1.0 - smoothstep(0.55 * uRadius - 0.5, 0.55 * uRadius + 0.5, r);
  float outer = 0.75 * (1.0 - smoothstep(uRadius - 1.0, uRadius, r));
  float a = max(inner, outer);
  colour = vec4(mix(uHalo, uViolet, inner) * a, a);
}`;

export const SHEET_VERTEX = `#version 300 es
precision highp float;
in vec2 corner;
uniform vec2 uCentre;
uniform float uScale;
uniform vec2 uCanvas;
out vec2 vColourPx;
void main() {
  vColourPx = uCentre + vec2(corner.x, -corner.y) * 0.5 * uCanvas / uScale;
  gl_Position = vec4(corner, 0.0, 1.0);
}`;

export const PICTURE_FRAGMENT = `#version 300 es
precision highp float;
in vec2 vColourPx;
uniform sampler2D uPicture;
uniform vec2 uPictureFrom;
uniform bool uHasPicture;
uniform float uBrightness;
uniform vec3 uGround;
out vec4 colour;
void main() {
  vec2 at = (vColourPx - uPictureFrom + 0.5) / vec2(textureSize(uPicture, 0));
  bool inside = uHasPicture && all(greaterThanEqual(at, vec2(0.0))) && all(lessThanEqual(at, vec2(1.0)));
  colour = vec4(inside ? min(vec3(1.0), uBrightness * textureLod(uPicture, at, 0.0).rgb) : uGround, 1.0);
}`;

/** Lines of equal density: distance to the level over the slope is the distance to the line in device pixels. */
export const LINES_FRAGMENT = `#version 300 es
precision highp float;
in vec2 vColourPx;
uniform highp sampler2D uDensity;
uniform vec2 uWindowFrom;
uniform float uTexelPx;
uniform float uLevels[4];
uniform int uLevelCount;
uniform float uLineWidth; // device pixels, of the highest level
uniform vec3 uViolet;
uniform vec3 uHalo;
out vec4 colour;
void main() {
  vec2 g = (vColourPx - uWindowFrom) / uTexelPx - 0.5;
  ivec2 size = textureSize(uDensity, 0);
  ivec2 node = clamp(ivec2(floor(g)), ivec2(0), size - 2);
  vec2 f = clamp(g - vec2(node), 0.0, 1.0);
  float a = texelFetch(uDensity, node, 0).r;
  float b = texelFetch(uDensity, node + ivec2(1, 0), 0).r;
  float c = texelFetch(uDensity, node + ivec2(0, 1), 0).r;
  float d = texelFetch(uDensity, node + ivec2(1, 1), 0).r;
  float density = mix(mix(a, b, f.x), mix(c, d, f.x), f.y);
  float slope = max(length(vec2(dFdx(density), dFdy(density))), 1e-20);
  float line = 0.0;
  float halo = 0.0;
  for (int i = 0; i < 4; i++) {
    if (i >= uLevelCount) break;
    float away = abs(density - uLevels[i]) / slope;
    float half_ = 0.5 * (i == 0 ? uLineWidth : 0.68 * uLineWidth);
    line = max(line, 1.0 - smoothstep(half_ - 0.5, half_ + 0.5, away));
    halo = max(halo, 0.75 * (1.0 - smoothstep(half_ + 0.6, half_ + 1.9, away)));
  }
  float alpha = max(line, halo);
  if (alpha < 0.004) discard;
  colour = vec4(mix(uHalo, uViolet, line) * alpha, alpha);
}`;
