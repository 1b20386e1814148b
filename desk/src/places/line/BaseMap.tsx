import 'maplibre-gl/dist/maplibre-gl.css';
import * as maplibre from 'maplibre-gl';
import workerUrl from 'maplibre-gl/dist/maplibre-gl-worker.mjs?worker&url';
import { PMTiles, Protocol } from 'pmtiles';
import { useEffect, useMemo, useRef } from 'react';
import { localFrameAt } from '../../../../src/earth/LocalFrame.ts';
import type { Viewport } from '../../sheet/Viewport.ts';
import { type Ink, inkNow, useTheme } from '../../shell/theme.ts';

maplibre.setWorkerUrl(workerUrl);
const protocol = new Protocol();
maplibre.addProtocol('pmtiles', protocol.tile);

interface Props {
  /** Address of the user's own tile file on this server. */
  readonly tiles: string;
  readonly originLlh: readonly [number, number, number];
  readonly view: Viewport;
}

/** The user's tile file as a pale ground below the plan; it follows the sheet, which alone is moved by hand. */
export default function BaseMap({ tiles, originLlh, view }: Props) {
  const box = useRef<HTMLDivElement>(null);
  const map = useRef<maplibre.Map | null>(null);
  const frame = useMemo(() => localFrameAt(originLlh), [originLlh]);
  const theme = useTheme();
  // biome-ignore lint/correctness/useExhaustiveDependencies: another theme is another style
  useEffect(() => {
    let there = true;
    const archive = new PMTiles(new URL(tiles, location.href).href);
    protocol.add(archive);
    void styleOf(archive, inkNow()).then((style) => {
      if (!there || !box.current) return;
      map.current = new maplibre.Map({
        container: box.current,
        style,
        interactive: false,
        attributionControl: false,
        fadeDuration: 0,
        // The sheet goes closer than any map: its ground is then the largest there is.
        maxZoom: 25,
      });
      map.current.jumpTo(cameraFor(frame, view));
    });
    return () => {
      there = false;
      map.current?.remove();
      map.current = null;
    };
  }, [tiles, theme]);
  useEffect(() => {
    map.current?.jumpTo(cameraFor(frame, view));
  }, [frame, view]);
  return <div ref={box} className="base-map" aria-hidden="true" />;
}

/** Web Mercator at zoom z shows 2πa cos(latitude) / (512 · 2^z) metres a pixel. Source: EPSG method 1024; tiles of 512 px. */
const EQUATOR_M = 2 * Math.PI * 6_378_137;

function cameraFor(frame: ReturnType<typeof localFrameAt>, view: Viewport): maplibre.JumpToOptions {
  const at = frame.llhFromEnu([view.centreX, view.centreY, 0]);
  // North of the map against north of the sheet, from a step of ten metres.
  const ahead = frame.llhFromEnu([view.centreX, view.centreY + 10, 0]);
  const latitude = (at[1] * Math.PI) / 180;
  const bearing = (Math.atan2((ahead[0] - at[0]) * Math.cos(latitude), ahead[1] - at[1]) * 180) / Math.PI;
  return {
    center: [at[0], at[1]],
    zoom: Math.log2((EQUATOR_M * Math.cos(latitude) * view.pxPerM) / 512),
    bearing,
  };
}

/** Pictures as they are; vector layers as faint lines and areas of ink, whatever their schema. */
async function styleOf(archive: PMTiles, ink: Ink): Promise<maplibre.StyleSpecification> {
  const header = await archive.getHeader();
  const url = `pmtiles://${archive.source.getKey()}`;
  const ground: maplibre.LayerSpecification = {
    id: 'ground',
    type: 'background',
    paint: { 'background-color': ink.paper },
  };
  // 1 is MVT in the specification of the file format; the others are pictures.
  if (header.tileType !== 1)
    return {
      version: 8,
      sources: { ground: { type: 'raster', url, tileSize: 256 } },
      layers: [ground, { id: 'pictures', type: 'raster', source: 'ground', paint: { 'raster-fade-duration': 0 } }],
    };
  const about = (await archive.getMetadata()) as { vector_layers?: { id: string }[] };
  const names = (about.vector_layers ?? []).map((layer) => layer.id);
  return {
    version: 8,
    sources: { ground: { type: 'vector', url } },
    layers: [
      ground,
      ...names.map(
        (name): maplibre.LayerSpecification => ({
          id: `${name} areas`,
          type: 'fill',
          source: 'ground',
          'source-layer': name,
          filter: ['==', ['geometry-type'], 'Polygon'],
          paint: { 'fill-color': ink.sunk, 'fill-outline-color': ink.faint },
        }),
      ),
      ...names.map(
        (name): maplibre.LayerSpecification => ({
          id: `${name} lines`,
          type: 'line',
          source: 'ground',
          'source-layer': name,
          filter: ['==', ['geometry-type'], 'LineString'],
          paint: { 'line-color': ink.mark, 'line-width': 1 },
        }),
      ),
    ],
  };
}
