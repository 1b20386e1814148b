/** What `corposant desk` is started with. */
export interface DeskOptions {
  readonly campaignFile: string;
  /** Recordings that may be shown and inspected: flight folders or MCAP files. Nothing else on the disk is served. */
  readonly flightPaths: readonly string[];
  readonly benchPaths: readonly string[];
  /** Campaigns of earlier years, to compare with. */
  readonly earlierCampaignFiles: readonly string[];
  readonly rigFile: string | null;
  readonly registrationFile: string | null;
  /** An earlier registration to compare with. */
  readonly previousRegistrationFile: string | null;
  readonly mountingFile: string | null;
  readonly lineFile: string | null;
  readonly tilesFile: string | null;
  /** The built desk; null: the API alone. */
  readonly deskFolder: string | null;
  readonly host: string;
  /** 0: one that is free. */
  readonly port: number;
  /** Needed beyond loopback; on loopback one is made at every start. */
  readonly token: string | null;
  readonly tls: { readonly certFile: string; readonly keyFile: string } | null;
  /** Program and first arguments by which a job runs the command itself. */
  readonly command: readonly string[];
}
