/* When a search stops. Every operation takes constant time, but for the caller's clock. */
#include <stddef.h>
#include "monitor.h"

void monitor_look(Monitor *m)
{
    int answer = m->poll ? m->poll(m->self, m->lower, m->upper, m->expansions) : GO_ON;
    if (answer == AT_ONCE || (answer && m->work >= m->at_least))
        m->stop = 1;
}

void monitor_work(Monitor *m, uint64_t units)
{
    m->work += units;
    if (m->work < m->next_look)
        return;
    m->next_look = m->work + m->interval;
    monitor_look(m);
}

void monitor_visit(Monitor *m)
{
    monitor_work(m, 1);
    if (++m->visits == m->patience && !m->stop)
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
