/* When a search stops. Every operation takes constant time, but for the caller's clock. */
#include <stddef.h>
#include "monitor.h"

void monitor_look(Monitor *m)
{
    int answer = m->poll ? m->poll(m->self, m->lower, m->upper, m->expansions) : GO_ON;
    if (answer == AT_ONCE || (answer && m->visits >= m->at_least))
        m->stop = 1;
}

void monitor_visit(Monitor *m)
{
    if (++m->visits % m->interval == 0)
        monitor_look(m);
    if (m->visits == m->patience && !m->stop)
        m->stop = m->pause = 1;
}

void monitor_resume(Monitor *m)
{
    if (m->pause)
        m->stop = m->pause = 0;
    monitor_look(m);
}

/* Memory is short: the search returns, and whoever called it says so. */
void monitor_fail(Monitor *m)
{
    m->stop = m->short_of_memory = 1;
}
