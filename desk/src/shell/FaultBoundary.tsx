import { Component, type ReactNode } from 'react';
import { useTranslation } from 'react-i18next';
import { Notice } from './Notice.tsx';

interface Props {
  readonly children: ReactNode;
  /** A new key gives the view a new start. */
  readonly resetKey: string;
}

/** Keeps a fault in one view from taking the others with it. */
export class FaultBoundary extends Component<Props, { fault: Error | null }> {
  override state: { fault: Error | null } = { fault: null };

  static getDerivedStateFromError(fault: Error) {
    return { fault };
  }

  override componentDidUpdate(before: Props) {
    if (before.resetKey !== this.props.resetKey && this.state.fault) this.setState({ fault: null });
  }

  override render() {
    return this.state.fault ? (
      <Fault fault={this.state.fault} again={() => this.setState({ fault: null })} />
    ) : (
      this.props.children
    );
  }
}

function Fault({ fault, again }: { fault: Error; again: () => void }) {
  const { t } = useTranslation();
  return (
    <Notice kind="failed" title={t('shell.broken')}>
      <p>{t('shell.brokenWhat')}</p>
      <p className="small soft">{fault.message}</p>
      <button type="button" onClick={again}>
        {t('shell.again')}
      </button>
    </Notice>
  );
}
