/** Brings the page to life. Without it the page can be read all the same. */
import type { PageData } from '../page-data.js';
import { startMapReader } from './map-reader.js';
import { find } from './page-elements.js';
import { startSpace } from './space.js';

function startChoosers(data: PageData): void {
  for (const scene of new Set(data.maps.map((map) => map.scene))) {
    const field = document.getElementById(`receiver-${scene}`) as HTMLSelectElement | null;
    if (field === null) continue;
    const show = (): void => {
      for (const map of data.maps) {
        if (map.scene === scene) find(`${map.figure}-card`).hidden = map.figure !== field.value;
      }
    };
    field.addEventListener('change', show);
    find(`chooser-${scene}`).hidden = false;
    show();
  }
}

const data = JSON.parse(find('page-data').textContent ?? '') as PageData;
data.maps.forEach(startMapReader);
startChoosers(data);
startSpace(data);
