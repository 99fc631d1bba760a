/* Python binding of the search kernel: `search`, `rank` and `price`. */
#define PY_SSIZE_T_CLEAN
#include <Python.h>
#include <math.h>
#include <string.h>
#include <time.h>
#include "groups.h"

enum { FIELDS = 48 };

/* Seconds from which on there is no limit. */
static const double NO_LIMIT = 1e9;

typedef struct {
    Problem problem;
    Py_buffer held[FIELDS];
    int many;
} Loan;

/* ---- borrowing the arrays ---- */

static const void *borrow(Loan *loan, PyObject *source, const char *name)
{
    PyObject *array = PyObject_GetAttrString(source, name);
    if (!array)
        return NULL;
    Py_buffer *view = &loan->held[loan->many];
    int failed = PyObject_GetBuffer(array, view, PyBUF_C_CONTIGUOUS);
    Py_DECREF(array);
    if (failed)
        return NULL;
    loan->many++;
    return view->buf;
}

static int whole(PyObject *source, const char *name, int *value)
{
    PyObject *number = PyObject_GetAttrString(source, name);
    if (!number)
        return 0;
    long wide = PyLong_AsLong(number);
    Py_DECREF(number);
    *value = (int)wide;
    return !(wide == -1 && PyErr_Occurred());
}

static int borrow_sizes(Problem *p, PyObject *source)
{
    int bounds = 0;
    int good = whole(source, "classes", &p->classes) && whole(source, "words", &p->words)
        && whole(source, "tests", &p->tests) && whole(source, "columns", &p->columns)
        && whole(source, "remedies", &p->remedies) && whole(source, "places", &p->places)
        && whole(source, "levels", &p->levels) && whole(source, "slots", &p->slots)
        && whole(source, "tolls", &p->tolls) && whole(source, "bundles", &p->bundles)
        && whole(source, "most_outcomes", &p->most_outcomes) && whole(source, "accesses", &p->accesses) && whole(source, "openings", &p->openings)
        && whole(source, "bounds", &bounds);
    p->bounds = (unsigned)bounds;
    return good;
}

static int borrow_arrays(Loan *loan, PyObject *source)
{
    Problem *p = &loan->problem;
    return (p->weight = borrow(loan, source, "weight"))
        && (p->regret = borrow(loan, source, "regret"))
        && (p->first = borrow(loan, source, "first"))
        && (p->column = borrow(loan, source, "column"))
        && (p->support = borrow(loan, source, "support"))
        && (p->mixed = borrow(loan, source, "mixed"))
        && (p->shown = borrow(loan, source, "shown"))
        && (p->alike = borrow(loan, source, "alike"))
        && (p->rows = borrow(loan, source, "rows"))
        && (p->slot = borrow(loan, source, "slot"))
        && (p->minutes = borrow(loan, source, "minutes"))
        && (p->need = borrow(loan, source, "need"))
        && (p->place = borrow(loan, source, "place"))
        && (p->barred = borrow(loan, source, "barred"))
        && (p->sets = borrow(loan, source, "sets"))
        && (p->direct = borrow(loan, source, "direct"))
        && (p->hands_in = borrow(loan, source, "hands_in"))
        && (p->entry = borrow(loan, source, "entry"))
        && (p->opening = borrow(loan, source, "opening"))
        && (p->cluster = borrow(loan, source, "cluster"))
        && (p->foreign = borrow(loan, source, "foreign"))
        && (p->access = borrow(loan, source, "access"))
        && (p->beyond = borrow(loan, source, "beyond"))
        && (p->cell = borrow(loan, source, "cell"))
        && (p->kind = borrow(loan, source, "kind"))
        && (p->apart_at = borrow(loan, source, "apart_at"))
        && (p->apart = borrow(loan, source, "apart"))
        && (p->kinds = borrow(loan, source, "kinds"))
        && (p->confusion = borrow(loan, source, "confusion"))
        && (p->toll = borrow(loan, source, "toll"))
        && (p->behind = borrow(loan, source, "behind"))
        && (p->notes = borrow(loan, source, "notes"))
        && (p->wants = borrow(loan, source, "wants"))
        && (p->awaits = borrow(loan, source, "awaits"))
        && (p->owed = borrow(loan, source, "owed"))
        && (p->due_from = borrow(loan, source, "due_from"))
        && (p->due = borrow(loan, source, "due"))
        && (p->forfeit = borrow(loan, source, "forfeit"))
        && (p->leads = borrow(loan, source, "leads"))
        && (p->after = borrow(loan, source, "after"))
        && (p->bundle = borrow(loan, source, "bundle"));
}

static void give_back(Loan *loan)
{
    while (loan->many)
        PyBuffer_Release(&loan->held[--loan->many]);
}

/* ---- time, interruption, progress ---- */

typedef struct {
    PyThreadState *thread;
    PyObject *progress;
    double began, seconds, next_report;
    int failed;
} Watch;

static double now(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}

static int report(Watch *watch, double lower, double upper, uint64_t expanded)
{
    int stop = 0;
    PyEval_RestoreThread(watch->thread);
    if (PyErr_CheckSignals())
        watch->failed = 1;
    else if (watch->progress != Py_None) {
        PyObject *answer = PyObject_CallFunction(watch->progress, "ddK", lower, upper,
                                                 (unsigned long long)expanded);
        watch->failed = !answer;
        Py_XDECREF(answer);
    }
    stop = watch->failed;
    watch->thread = PyEval_SaveThread();
    return stop;
}

static int look_at_clock(void *self, double lower, double upper, uint64_t expanded)
{
    Watch *watch = self;
    double time = now();
    if (time >= watch->began + watch->seconds)
        return 1;
    if (time < watch->next_report)
        return 0;
    watch->next_report = time + 0.1;
    return report(watch, lower, upper, expanded);
}

static double share_spent(void *self)
{
    const Watch *watch = self;
    return watch->seconds < NO_LIMIT ? (now() - watch->began) / watch->seconds : 0;
}

/* ---- writing the plan out ---- */

typedef struct {
    Search *search;
    PyObject *nodes, *index;
    int optimal;
} Writer;

static long write_node(Writer *w, Node *node, int depth);

static Known choose(Writer *w, Node *node, int depth)
{
    if (w->optimal)
        return search_solve(w->search, node, INFINITY, depth);
    return search_follow(w->search, node, depth);
}

static PyObject *write_children(Writer *w, Node *node, int test, Word more, int depth)
{
    const Problem *p = w->search->problem;
    int outcomes = p->first[test + 1] - p->first[test];
    PyObject *children = PyTuple_New(outcomes);
    Frame *f = search_enter(w->search, node, depth);
    for (int o = 0; f && o < outcomes; o++)
        search_branch(p, node, test, more, o, &f->child[o]);
    for (int o = 0; children && o < outcomes; o++) {
        long at = f && node_size(p, &f->child[o]) ? write_node(w, &f->child[o], depth + 1) : -1;
        if (at == -2)
            Py_CLEAR(children);
        else
            PyTuple_SET_ITEM(children, o, PyLong_FromLong(at));
    }
    return children;
}

static PyObject *write_members(const Frame *f)
{
    PyObject *members = PyTuple_New(f->members);
    for (int i = 0; members && i < f->members; i++)
        PyTuple_SET_ITEM(members, i, PyLong_FromLong(f->member[i]));
    return members;
}

static PyObject *describe(Writer *w, Node *node, int depth)
{
    const Problem *p = w->search->problem;
    Known known = choose(w, node, depth);
    Frame *f = search_enter(w->search, node, depth);
    PyObject *members = f ? write_members(f) : NULL;
    int test = known.test == NO_TEST ? NO_TEST : known.test % p->tests;
    Word more = f && test != NO_TEST ? search_leads(p, f, node, test, known.test / p->tests) : 0;
    PyObject *children = test == NO_TEST ? PyTuple_New(0)
                                         : write_children(w, node, test, more, depth);
    if (!members || !children) {
        Py_XDECREF(members);
        Py_XDECREF(children);
        return NULL;
    }
    Word made = test == NO_TEST ? node->opened : node->opened | p->need[test] | more;
    int place = test == NO_TEST ? node->place : p->place[test];
    return Py_BuildValue("(iiKiNy#N)", test, known.remedy,
                         (unsigned long long)(made & ~SHORT_FOUND), place, members, (const char *)node->code, (Py_ssize_t)p->slots, children);
}

static PyObject *identity(const Writer *w, const Node *node)
{
    const Problem *p = w->search->problem;
    return Py_BuildValue("(y#KKiy#)", (const char *)node->set,
                         (Py_ssize_t)(p->words * sizeof(Word)), (unsigned long long)node->opened,
                         (unsigned long long)node->noted, node->place, (const char *)node->code, (Py_ssize_t)p->slots);
}

/* Index of the node in the list, written if new; -2 when Python raised something. */
static long write_node(Writer *w, Node *node, int depth)
{
    PyObject *key = identity(w, node);
    if (!key)
        return -2;
    PyObject *known = PyDict_GetItemWithError(w->index, key);
    long at = known ? PyLong_AsLong(known) : -1;
    if (at < 0) {
        PyObject *entry = describe(w, node, depth);
        PyObject *number = entry ? PyLong_FromSsize_t(PyList_GET_SIZE(w->nodes)) : NULL;
        int bad = !number || PyDict_SetItem(w->index, key, number)
            || PyList_Append(w->nodes, entry);
        at = bad ? -2 : PyLong_AsLong(number);
        Py_XDECREF(entry);
        Py_XDECREF(number);
    }
    Py_DECREF(key);
    return at;
}

static PyObject *write_plan(Search *search, Node *root, int optimal, long *at)
{
    Writer w = {search, PyList_New(0), PyDict_New(), optimal};
    *at = w.nodes && w.index ? write_node(&w, root, 0) : -2;
    Py_XDECREF(w.index);
    if (*at < 0)
        Py_CLEAR(w.nodes);
    return w.nodes;
}

/* ---- the jobs ---- */

static PyObject *run(Search *s, Node *root, Watch *watch, int patience)
{
    s->poll = look_at_clock;
    s->spent = share_spent;
    s->self = watch;
    watch->thread = PyEval_SaveThread();
    Known known = search_prove(s, root, patience > 0 ? (uint64_t)patience : search_patience(s->problem));
    int optimal = proven(known);
    if (!optimal) {
        s->breadth = 1;
        s->spare = search_spare(s->problem);
        search_rollout(s, root, 0, NULL);
    }
    PyEval_RestoreThread(watch->thread);
    if (watch->failed)
        return NULL;
    if (s->broken)
        return PyErr_NoMemory();
    long at = -1;
    s->poll = NULL;
    s->stopped = !optimal;
    s->spare = search_spare(s->problem);
    PyObject *nodes = write_plan(s, root, optimal, &at);
    if (!nodes)
        return NULL;
    return Py_BuildValue("(NldiKn(KKKKKKK))", nodes, at, known.lower, optimal,
                         (unsigned long long)s->expanded, (Py_ssize_t)s->memo.count,
                         (unsigned long long)s->cuts[0], (unsigned long long)s->cuts[1],
                         (unsigned long long)s->cuts[2], (unsigned long long)s->cuts[3],
                         (unsigned long long)s->cuts[4], (unsigned long long)s->cuts[5],
                         (unsigned long long)s->cuts[6]);
}

typedef PyObject *(*Job)(Search *s, Node *root, Watch *watch, int many);

static PyObject *plan_job(Search *s, Node *root, Watch *watch, int many)
{
    return run(s, root, watch, many);
}

enum { MOST_RANKED = 64 };

static PyObject *rank_job(Search *s, Node *root, Watch *watch, int many)
{
    int tests[MOST_RANKED], found;
    double costs[MOST_RANKED];
    s->poll = look_at_clock;
    s->spent = share_spent;
    s->self = watch;
    watch->thread = PyEval_SaveThread();
    search_prove(s, root, search_patience(s->problem));
    found = search_rank(s, root, many < MOST_RANKED ? many : MOST_RANKED, tests, costs);
    PyEval_RestoreThread(watch->thread);
    if (watch->failed || s->broken)
        return watch->failed ? NULL : PyErr_NoMemory();
    PyObject *list = PyList_New(found);
    for (int i = 0; list && i < found; i++)
        PyList_SET_ITEM(list, i, Py_BuildValue("(id)", tests[i], costs[i]));
    return list;
}

/* The bound by groups alone, from the node sets of a greedy plan. */
static PyObject *price_job(Search *s, Node *root, Watch *watch, int many)
{
    (void)many;
    s->spent = share_spent;
    s->self = watch;
    Groups g;
    search_rollout(s, root, 0, NULL);
    int room = groups_open(&g, s, root, 0);
    double bound = room ? groups_climb(&g, s, 1) : 0;
    groups_close(&g);
    return room ? PyFloat_FromDouble(bound) : PyErr_NoMemory();
}

static PyObject *do_job(PyObject *args, Job job)
{
    PyObject *source, *progress, *result = NULL;
    unsigned long long opened, noted;
    int place, many;
    double seconds, bytes;
    if (!PyArg_ParseTuple(args, "OKKiddOi", &source, &opened, &noted, &place, &seconds, &bytes,
                          &progress, &many))
        return NULL;
    Loan loan = {.many = 0};
    Search s;
    Node root;
    Watch watch = {NULL, progress, now(), seconds, now() + 0.1, 0};
    if (borrow_sizes(&loan.problem, source) && borrow_arrays(&loan, source)) {
        int room = search_open(&s, &loan.problem, (size_t)bytes);
        if (room && search_root(&loan.problem, &root, opened, noted, place)) {
            result = job(&s, &root, &watch, many);
            node_free(&root);
        } else {
            PyErr_NoMemory();
        }
        search_close(&s);
    }
    give_back(&loan);
    return result;
}

static PyObject *search(PyObject *self, PyObject *args)
{
    (void)self;
    return do_job(args, plan_job);
}

static PyObject *rank(PyObject *self, PyObject *args)
{
    (void)self;
    return do_job(args, rank_job);
}

static PyObject *price(PyObject *self, PyObject *args)
{
    (void)self;
    return do_job(args, price_job);
}

static PyObject *clock_now(PyObject *self, PyObject *none)
{
    (void)self;
    (void)none;
    return PyFloat_FromDouble(now());
}

static PyMethodDef methods[] = {
    {"search", search, METH_VARARGS,
     "search(problem, opened, noted, place, seconds, memory_bytes, progress, patience) -> "
     "(nodes, root, lower, optimal, expanded, remembered, cuts)"},
    {"rank", rank, METH_VARARGS,
     "rank(problem, opened, noted, place, seconds, memory_bytes, progress, many) -> [(test, cost)]"},
    {"price", price, METH_VARARGS,
     "price(problem, opened, noted, place, seconds, memory_bytes, progress, 0) -> bound by groups"},
    {"clock", clock_now, METH_NOARGS, "clock() -> seconds on the clock that `search` keeps to"},
    {NULL, NULL, 0, NULL}};

static struct PyModuleDef module = {PyModuleDef_HEAD_INIT, "_kernel", NULL, -1, methods,
                                    NULL, NULL, NULL, NULL};

PyMODINIT_FUNC PyInit__kernel(void)
{
    return PyModule_Create(&module);
}
