// Does the plan still fit the job? What changed since it was made, and what can be done about it.

import { h, button, remark, say } from './dom.js';
import * as api from './api.js';
import * as store from './store.js';

const listed = (names) => (names.length > 1 ? `${names.slice(0, -1).join(', ')} and ${names.at(-1)}` : names[0]);

/** What to say of the plan on top of its place; nothing while it fits. @returns {HTMLElement|null} */
export function standing() {
  const { state } = store;
  if (state.plan_changed?.length) {
    return h('div', { role: 'status' }, remark('wrong', `This plan no longer fits the job. Changed since: ${listed(state.plan_changed)}. It stays as it is, for it is partly cut.`),
      h('p', {}, `Undo what was changed, and it fits again. Or go on cutting by it as it was. When this work is finished, move the folder ${state.job_file.replace(/(\.job)?\.json$/, '')}-cut elsewhere; then a new plan can be made.`));
  }
  if (state.plan_retold?.length) {
    return h('div', { role: 'status' }, remark('care', `Report and sheets tell it as it was. Changed since: ${listed(state.plan_retold)}. The passes and what is cut are not touched by that.`),
      h('div', { class: 'tools' }, button('Write report and sheets again', async () => {
        say('Writing');
        await api.send('api/plan/words');
      }, { class: 'main', disabled: !!state.busy })));
  }
  return null;
}
