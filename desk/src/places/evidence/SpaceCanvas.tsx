import { useEffect, useRef, useState } from 'react';
import * as three from 'three';
import { OrbitControls } from 'three/examples/jsm/controls/OrbitControls.js';
import type { Vec3 } from '../../../../src/maths/vec3.ts';
import type { FindingAnswer, LineAnswer } from '../../server/answers.ts';
import { Notice } from '../../shell/Notice.tsx';
import { inkNow, useTheme } from '../../shell/theme.ts';
import { useWords } from '../../words/useWords.ts';

/** Hardware and wires farther from the discharge than this are left out. */
const AROUND_M = 45;

/**
 * Rays, ellipsoid and line in space. World coordinates are metres from the discharge, so that the GPU's 32-bit floats hold
 * millimetres wherever the line lies. Axes of the drawing: x east, y up, z south.
 */
export default function SpaceCanvas({ finding, line }: { finding: FindingAnswer; line: LineAnswer }) {
  const { t } = useWords();
  const theme = useTheme();
  const box = useRef<HTMLDivElement>(null);
  const act = useRef<{ turn(a: number, b: number): void; dolly(factor: number): void; reset(): void } | null>(null);
  const [failed, setFailed] = useState(false);
  // biome-ignore lint/correctness/useExhaustiveDependencies: the theme's colours are read while building
  useEffect(() => {
    const element = box.current!;
    let renderer: three.WebGLRenderer;
    try {
      renderer = new three.WebGLRenderer({ antialias: true });
    } catch {
      setFailed(true);
      return;
    }
    const ink = inkNow();
    const scene = new three.Scene();
    scene.background = new three.Color(ink.paper);
    const [e0, n0, u0] = finding.positionEnuM;
    const at = ([e, n, u]: Vec3): three.Vector3 => new three.Vector3(e - e0, u - u0, n0 - n);
    const made: { dispose(): void }[] = [];
    const stroke = (points: three.Vector3[], colour: string, opacity = 1): void => {
      const geometry = new three.BufferGeometry().setFromPoints(points);
      const material = new three.LineBasicMaterial({ color: colour, transparent: opacity < 1, opacity });
      made.push(geometry, material);
      scene.add(new three.Line(geometry, material));
    };
    for (const c of [...line.conductors, ...line.components]) {
      const points = c.axisEnuM.map(at);
      const near = points.filter((p) => p.length() < AROUND_M);
      if (near.length === 0 && points.length <= 2) continue;
      const shown = points.length > 2 ? near : points;
      if (shown.length < 2 && points.length > 1) continue;
      const own = c.id === finding.componentId;
      if (c.kind === 'insulator string' && c.radiusM > 0 && points.length === 2) {
        const height = points[0]!.distanceTo(points[1]!);
        const geometry = new three.CylinderGeometry(c.radiusM, c.radiusM, height, 14, Math.max(1, c.discs), true);
        const material = new three.MeshBasicMaterial({
          color: ink.ink,
          wireframe: true,
          transparent: true,
          opacity: own ? 0.7 : 0.25,
        });
        made.push(geometry, material);
        const mesh = new three.Mesh(geometry, material);
        mesh.position.copy(points[0]!).add(points[1]!).multiplyScalar(0.5);
        mesh.quaternion.setFromUnitVectors(new three.Vector3(0, 1, 0), points[1]!.clone().sub(points[0]!).normalize());
        scene.add(mesh);
      } else if (points.length === 1 || points[0]!.distanceTo(points.at(-1)!) < 0.05) {
        const geometry = new three.SphereGeometry(Math.max(0.06, c.radiusM), 10, 6);
        const material = new three.MeshBasicMaterial({
          color: ink.ink,
          wireframe: true,
          transparent: true,
          opacity: own ? 0.8 : 0.3,
        });
        made.push(geometry, material);
        const mesh = new three.Mesh(geometry, material);
        mesh.position.copy(points[0]!);
        scene.add(mesh);
      } else stroke(shown, ink.ink, own ? 1 : 0.65);
    }
    for (const s of line.structures) {
      const foot = at(s.footEnuM);
      if (Math.hypot(foot.x, foot.z) > AROUND_M) continue;
      stroke([foot, at([s.footEnuM[0], s.footEnuM[1], s.footEnuM[2] + s.heightM])], ink.mark);
    }
    // Rays from where the camera was, each to the discharge.
    const places: three.Vector3[] = [];
    for (const sighting of finding.sightingList) {
      const { viewpointsEnuM: v } = sighting;
      const way: three.Vector3[] = [];
      for (let i = 0; i + 2 < v.length; i += 3) way.push(at([v[i]!, v[i + 1]!, v[i + 2]!]));
      for (const place of way) stroke([place, new three.Vector3()], ink.ultraviolet, 0.3);
      if (way.length > 1) stroke(way, ink.mark);
      places.push(...way);
    }
    const [a, b, c] = finding.halfAxes95M;
    const sphere = new three.SphereGeometry(1, 24, 16);
    const skin = new three.MeshBasicMaterial({
      color: ink.ultraviolet,
      wireframe: true,
      transparent: true,
      opacity: 0.5,
    });
    made.push(sphere, skin);
    const ellipsoid = new three.Mesh(sphere, skin);
    const axis = (i: 0 | 1 | 2): three.Vector3 => {
      const [e, n, u] = finding.ellipsoidAxesEnu[i];
      return new three.Vector3(e, u, -n);
    };
    const basis = new three.Matrix4().makeBasis(axis(0), axis(1), axis(2));
    ellipsoid.applyMatrix4(basis.multiply(new three.Matrix4().makeScale(a, b, c)));
    scene.add(ellipsoid);

    const camera = new three.PerspectiveCamera(40, 1, 0.05, 2000);
    const controls = new OrbitControls(camera, renderer.domElement);
    const reset = (): void => {
      // From the side that the flight saw it from, or the south, a little above.
      const side =
        places.length > 0
          ? places[Math.floor(places.length / 2)]!.clone().setY(0).normalize()
          : new three.Vector3(0, 0, 1);
      camera.position.copy(side.multiplyScalar(9)).setY(4);
      controls.target.set(0, 0, 0);
      controls.update();
    };
    let asked = 0;
    const draw = (): void => {
      asked = 0;
      renderer.render(scene, camera);
    };
    const ask = (): void => {
      if (asked === 0) asked = requestAnimationFrame(draw);
    };
    controls.addEventListener('change', ask);
    const measure = (): void => {
      const { clientWidth: w, clientHeight: h } = element;
      if (w === 0 || h === 0) return;
      renderer.setPixelRatio(Math.min(devicePixelRatio, 2));
      renderer.setSize(w, h, false);
      camera.aspect = w / h;
      camera.updateProjectionMatrix();
      draw();
    };
    element.prepend(renderer.domElement);
    const observer = new ResizeObserver(measure);
    observer.observe(element);
    reset();
    measure();
    act.current = {
      turn: (azimuth, polar) => {
        const s = new three.Spherical().setFromVector3(camera.position.clone().sub(controls.target));
        s.theta += azimuth;
        s.phi = Math.min(Math.PI - 0.05, Math.max(0.05, s.phi + polar));
        camera.position.setFromSpherical(s).add(controls.target);
        controls.update();
      },
      dolly: (factor) => {
        camera.position.sub(controls.target).multiplyScalar(factor).add(controls.target);
        controls.update();
      },
      reset,
    };
    return () => {
      observer.disconnect();
      controls.dispose();
      for (const thing of made) thing.dispose();
      renderer.dispose();
      renderer.domElement.remove();
      cancelAnimationFrame(asked);
      act.current = null;
    };
  }, [finding, line, theme]);
  if (failed)
    return (
      <Notice kind="failed" title={t('evidence.viewSpace')}>
        <p>{t('evidence.spaceFailed')}</p>
      </Notice>
    );
  return (
    <div
      ref={box}
      className="space-box"
      role="application"
      aria-label={t('evidence.spaceKeys')}
      // biome-ignore lint/a11y/noNoninteractiveTabindex: moved and enlarged by keys
      tabIndex={0}
      onKeyDown={(event) => {
        const keys = new Map<string, () => void>([
          ['ArrowLeft', () => act.current?.turn(-0.12, 0)],
          ['ArrowRight', () => act.current?.turn(0.12, 0)],
          ['ArrowUp', () => act.current?.turn(0, -0.1)],
          ['ArrowDown', () => act.current?.turn(0, 0.1)],
          ['+', () => act.current?.dolly(0.8)],
          ['=', () => act.current?.dolly(0.8)],
          ['-', () => act.current?.dolly(1.25)],
          ['0', () => act.current?.reset()],
        ]);
        const does = keys.get(event.key);
        if (!does) return;
        event.preventDefault();
        does();
      }}
    />
  );
}
