/* Bits priced for each group of classes: for where the search can't close soon without. */
#ifndef NEXTPROBE_GROUPS_H
#define NEXTPROBE_GROUPS_H

#include "search.h"

/* Numbers climbed by their slopes, each at its own pace (Kingma and Ba's Adam). */
typedef struct {
    size_t many;
    double *at, *slope, *mean, *square;
} Dials;

struct Groups {
    const Problem *p;
    /* the classes of the node that prices are found for; they have numbers of their own here */
    int many, *who, *local;     /* [many] the problem's number; [the problem's classes] ours */
    double *weight;             /* [many] */
    /* the family: a seat is a class in a group */
    int groups, *from;          /* [groups + 1] first seat of a group */
    int *member, *home;         /* [seats] its class, its group */
    int *chair_from, *chair;    /* [classes + 1], [seats] the seats of a class */
    Dials price;                /* [seats] log of the minutes that a bit is worth */
    double *theta, *mass;       /* [seats] minutes a bit; times the class's weight */
    double *sum, *log_sum;      /* [groups] mass in all, its log */
    double *lean;               /* [groups] slope by way of the sum */
    double *of_class;           /* [classes] theta of a class, all seats */
    double *by_group;           /* [groups + classes] scratch */
    /* the tests: a stall is a group that a test parts */
    uint16_t *kind;             /* [tests][classes] number of the class's row among the test's */
    int *kinds;                 /* [tests] rows that differ */
    size_t *row_from;           /* [tests + 1] where a test's rows begin */
    double *row;                /* [rows][most outcomes] odds */
    double *noise;              /* [rows] sum of p log p */
    size_t *stall_from;         /* [tests + 1] */
    int *stall;                 /* [stalls] the group */
    size_t *bid_from;           /* [stalls + 1] where its bids begin */
    Dials bid;                  /* logits of the outcomes among the mass that the test sells to */
    double *told, *gain;        /* scratch: bits by stall and kind; minutes earned by class */
    double *share;              /* scratch: [stalls of a test][most outcomes] */
    double *charge, *heat;      /* [tests][classes] minutes charged; part of the class that buys */
    /* set-ups that can't be escaped, shared out class by class */
    int tolls, *toll_from, *toll_test;
    double *toll, *part;        /* [tolls] minutes; [toll tests][classes] shares */
    /* verdicts: a remedy is near a class that it serves well */
    int *near_from, *near;      /* [remedies + 1], [nears] classes */
    Dials fit;                  /* [nears] log of the class's share among them */
    Dials rest;                 /* [1] logit of the share kept for classes served badly */
    double *near_cost, *choice; /* [nears] minutes by that verdict; odds that it is taken */
    double *log_share;          /* [nears x their seats] log of a group's mass among them */
    double *far, *least;        /* [classes] least regret served badly; least cost of a verdict */
    double *odds;               /* [classes] of ending with one that serves badly */
    /* settled for all nodes */
    double *margin;             /* [tests][classes] minutes that the test earns a unit of the class */
    double *end;                /* [classes] of a verdict, but for the logs of its groups' masses */
    int *hot_from, *hot;        /* [tests + 1], [..] classes that a test may earn from */
    int *warm_to;               /* [tests] end of those that it earns from with all tolls due */
    Word *due_mask;             /* [tests] the tolls on the way to it */
    int *due_from, *due_toll, *due_part; /* [tests + 1], [..] tolls on the way to a test */
    double step;                /* of the dials, now */
    int steps;
    double due, due_square;     /* how far the dials' means have come */
    double best;                /* the greatest bound so far */
};

int groups_open(Groups *g, Search *s, Node *root, int depth);
void groups_close(Groups *g);
double groups_climb(Groups *g, Search *s, double until);
double groups_value(Groups *g, double round);
int groups_settle(Groups *g, double round);

void dials_make(Dials *d, size_t many, int *bad);
void dials_turn(const Groups *g, Dials *d, size_t from, size_t to);
void *groups_room(size_t many, size_t size, int *short_of);

int sales_make(Groups *g, const Node *root);
double sell(Groups *g, int test, double round);
void share_tolls(Groups *g);

int ends_make(Groups *g);
double ends_cost(Groups *g, double round);
void ends_turn(Groups *g);

#endif
