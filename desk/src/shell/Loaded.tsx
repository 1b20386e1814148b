import type { ReactNode } from 'react';
import { type Resource, refreshAll } from '../server/resource.ts';
import { LoadingNotice } from './Notice.tsx';
import { ProblemNotice } from './ProblemNotice.tsx';

/** Draws a resource: what it is while it loads or fails, and its content once it is there. */
export function Loaded<T>({
  of,
  what,
  children,
}: {
  of: Resource<T>;
  /** Named in the notices: "the findings". */
  what: string;
  children: (data: T) => ReactNode;
}) {
  if (of.state === 'loading') return <LoadingNotice what={what} />;
  if (of.state === 'failed') return <ProblemNotice problem={of.problem} onAgain={refreshAll} />;
  return <>{children(of.data)}</>;
}
