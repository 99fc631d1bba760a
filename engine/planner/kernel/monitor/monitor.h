/* When a search stops: time, interruption, patience; and what it tells of its progress. */
#ifndef NEXTPROBE_MONITOR_H
#define NEXTPROBE_MONITOR_H

#include <stdint.h>

/* The share of the time allowed that is spent, 0 where there is no limit. */
typedef double (*TimeShare)(void *self);

enum { GO_ON, TIME_IS_UP, AT_ONCE };

/* Called now and then with the root's bounds; returns whether to go on, or AT_ONCE to stop whatever
 * is still to be done. */
typedef int (*Poll)(void *self, double lower, double upper, uint64_t expansions);

typedef struct {
    Poll poll;            /* NULL to look at no clock */
    TimeShare time_share;
    void *self;           /* what both are called with */
    double lower, upper;  /* of the root, to be reported */
    uint64_t expansions;  /* nodes whose tests were searched */
    uint64_t visits;      /* nodes looked at */
    uint64_t work;        /* what that took, a greedy visit being the unit: bounds are dearer */
    uint64_t interval;    /* work between looks at the clock: less where each unit is dear */
    uint64_t next_look;   /* the work at which the next one is due */
    uint64_t patience;    /* visits after which the search pauses, 0 for never */
    int stop;             /* the search must return */
    int pause;            /* ... for want of patience */
    int short_of_memory;  /* ... for want of memory */
    uint64_t at_least;    /* work done though time is up: a short search is worth its time */
} Monitor;

/* Look at the clock. */
void monitor_look(Monitor *m);

/* Count a visit, which is a unit of work. */
void monitor_visit(Monitor *m);

/* Count work; look at the clock where that is due. */
void monitor_work(Monitor *m, uint64_t units);

/* Go on after a pause; a search that was stopped for good stays so. */
void monitor_resume(Monitor *m);

void monitor_fail(Monitor *m);

#endif
