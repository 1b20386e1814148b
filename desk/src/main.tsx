import '@fontsource/inter/latin-400.css';
import '@fontsource/inter/latin-500.css';
import '@fontsource/inter/latin-600.css';
import './look/sheet.css';
import './look/shell.css';
import { createRoot } from 'react-dom/client';
import { listenForChanges } from './server/changes.ts';
import { openSession } from './server/session.ts';
import { Desk } from './shell/Desk.tsx';
import { startTheme } from './shell/theme.ts';
import { startLanguage } from './words/language.ts';

startTheme();
startLanguage();
await openSession();
listenForChanges();
createRoot(document.getElementById('desk')!).render(<Desk />);
