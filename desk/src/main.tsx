import '@fontsource/inter/latin-400.css';
import '@fontsource/inter/latin-500.css';
import '@fontsource/inter/latin-600.css';
import './look/sheet.css';
import './look/shell.css';
import { createRoot } from 'react-dom/client';
import { listenForChanges } from './server/changes.ts';
import { prefetch } from './server/resource.ts';
import { openSession } from './server/session.ts';
import { Desk } from './shell/Desk.tsx';
import { warmPlace } from './shell/places.ts';
import { readRoute } from './shell/route.ts';
import { startTheme } from './shell/theme.ts';
import { startLanguage } from './words/language.ts';

startTheme();
startLanguage();
// The first place's code comes while the session is opened, and its data while that code is read: one after the other they
// would be most of the time to the first picture. The key of a session is no place.
warmPlace(readRoute(location.hash.startsWith('#key=') ? '' : location.hash).place);
await openSession();
for (const path of ['/api/campaign', '/api/line', '/api/findings']) prefetch(path);
listenForChanges();
createRoot(document.getElementById('desk')!).render(<Desk />);
