/* Python binding of the search kernel: `search`, `rank` and `price`. */
#define PY_SSIZE_T_CLEAN
#include <Python.h>
#include <math.h>
#include <string.h>
#include <time.h>
#include "groups.h"


/* Seconds from which on there is no limit. */
static const double NO_LIMIT = 1e9;

/* How many elements an array has at least: a product of two sizes of the problem. */
typedef enum {
    ONE, CLASSES, CLASSES_AND_ONE, WORDS, TESTS, TESTS_AND_ONE, COLUMNS, REMEDIES, PLACES, LEVELS,
    ACCESSES, OPENINGS, OPENINGS_AND_ONE, TOLLS, BUNDLES, BITS
} Size;

/* An array of the problem: its name in Python, its place in `Problem`, what its elements are (d
 * double, i int, w Word, b byte, h half word), and how many there are at least. */
typedef struct {
    const char *name;
    size_t place;
    char kind;
    Size rows, columns;
} Array;

#define ARRAY(name, kind, rows, columns) {#name, offsetof(Problem, name), kind, rows, columns}

static const Array ARRAYS[] = {
    ARRAY(weight, 'd', CLASSES, ONE),
    ARRAY(regret, 'd', CLASSES, REMEDIES),
    ARRAY(first, 'i', TESTS_AND_ONE, ONE),
    ARRAY(column, 'd', COLUMNS, CLASSES),
    ARRAY(support, 'w', COLUMNS, WORDS),
    ARRAY(mixed, 'w', TESTS, WORDS),
    ARRAY(shown, 'b', TESTS, CLASSES),
    ARRAY(alike, 'i', TESTS, CLASSES),
    ARRAY(rows, 'w', ONE, WORDS),
    ARRAY(slot, 'i', TESTS, ONE),
    ARRAY(minutes, 'd', TESTS, ONE),
    ARRAY(need, 'w', TESTS, ONE),
    ARRAY(place, 'i', TESTS, ONE),
    ARRAY(barred, 'w', TESTS, ONE),
    ARRAY(sets, 'w', COLUMNS, ONE),
    ARRAY(direct, 'd', PLACES, PLACES),
    ARRAY(hands_in, 'd', PLACES, PLACES),
    ARRAY(entry, 'd', PLACES, ONE),
    ARRAY(opening, 'd', BITS, ONE),
    ARRAY(cluster, 'i', LEVELS, CLASSES),
    ARRAY(foreign, 'd', LEVELS, CLASSES),
    ARRAY(access, 'w', ACCESSES, ONE),
    ARRAY(beyond, 'i', ACCESSES, OPENINGS),
    ARRAY(cell, 'i', ACCESSES, CLASSES),
    ARRAY(kind, 'h', TESTS, CLASSES),
    ARRAY(apart_at, 'i', TESTS_AND_ONE, ONE),
    ARRAY(apart, 'd', ONE, ONE),
    ARRAY(kinds, 'i', TESTS, ONE),
    ARRAY(confusion, 'd', CLASSES, CLASSES),
    ARRAY(toll, 'd', TOLLS, ONE),
    ARRAY(behind, 'b', TOLLS, PLACES),
    ARRAY(notes, 'w', COLUMNS, ONE),
    ARRAY(wants, 'w', REMEDIES, ONE),
    ARRAY(awaits, 'w', TESTS, ONE),
    ARRAY(owed, 'w', CLASSES, ONE),
    ARRAY(due_from, 'i', CLASSES_AND_ONE, ONE),
    ARRAY(due, 'i', ONE, ONE),
    ARRAY(forfeit, 'd', ONE, ONE),
    ARRAY(leads, 'w', ONE, ONE),
    ARRAY(after, 'w', OPENINGS_AND_ONE, ONE),
    ARRAY(bundle, 'w', BUNDLES, ONE),
};

enum { FIELDS = sizeof ARRAYS / sizeof *ARRAYS };

typedef struct {
    Problem problem;
    Py_buffer held[FIELDS];
    int many;
} Loan;

/* ---- borrowing the arrays ---- */

static Py_ssize_t size_of(const Problem *p, Size size)
{
    switch (size) {
    case CLASSES: return p->classes;
    case CLASSES_AND_ONE: return p->classes + 1;
    case WORDS: return p->words;
    case TESTS: return p->tests;
    case TESTS_AND_ONE: return p->tests + 1;
    case COLUMNS: return p->columns;
    case REMEDIES: return p->remedies;
    case PLACES: return p->places;
    case LEVELS: return p->levels;
    case ACCESSES: return p->accesses;
    case OPENINGS: return p->openings;
    case OPENINGS_AND_ONE: return p->openings + 1;
    case TOLLS: return p->tolls;
    case BUNDLES: return p->bundles;
    case BITS: return 8 * (Py_ssize_t)sizeof(Word);
    default: return 1;
    }
}

/* Whether the elements of a buffer are of a kind: by its format, a letter as in Python's `struct`,
 * and by their size, since letters mean other sizes on other machines. */
static int is_kind(const Py_buffer *view, char kind)
{
    const char *format = view->format ? view->format : "B";
    if (*format == '@' || *format == '=' || *format == '<')
        format++;
    if (!*format || format[1])
        return 0;
    switch (kind) {
    case 'd': return *format == 'd' && view->itemsize == (Py_ssize_t)sizeof(double);
    case 'i': return strchr("il", *format) && view->itemsize == (Py_ssize_t)sizeof(int);
    case 'w': return strchr("LQ", *format) && view->itemsize == (Py_ssize_t)sizeof(Word);
    case 'b': return *format == 'B' && view->itemsize == 1;
    default: return *format == 'H' && view->itemsize == 2;
    }
}

/* ValueError or TypeError for an array that is not what the kernel takes it for. */
static int borrow(Loan *loan, PyObject *source, const Array *field)
{
    Problem *p = &loan->problem;
    PyObject *array = PyObject_GetAttrString(source, field->name);
    if (!array)
        return 0;
    Py_buffer *view = &loan->held[loan->many];
    int failed = PyObject_GetBuffer(array, view, PyBUF_C_CONTIGUOUS | PyBUF_FORMAT);
    Py_DECREF(array);
    if (failed)
        return 0;
    loan->many++;
    if (!is_kind(view, field->kind)) {
        PyErr_Format(PyExc_TypeError, "%s holds elements of format %s, %zd bytes each",
                     field->name, view->format ? view->format : "B", view->itemsize);
        return 0;
    }
    Py_ssize_t least = size_of(p, field->rows) * size_of(p, field->columns);
    if (view->len / view->itemsize < least) {
        PyErr_Format(PyExc_ValueError, "%s holds %zd elements, not %zd or more", field->name,
                     view->len / view->itemsize, least);
        return 0;
    }
    memcpy((char *)p + field->place, &view->buf, sizeof view->buf);
    return 1;
}

static int whole(PyObject *source, const char *name, int *value)
{
    PyObject *number = PyObject_GetAttrString(source, name);
    if (!number)
        return 0;
    long wide = PyLong_AsLong(number);
    Py_DECREF(number);
    *value = (int)wide;
    if (wide == -1 && PyErr_Occurred())
        return 0;
    if (wide < 0 || wide != *value) {
        PyErr_Format(PyExc_ValueError, "%s is %ld", name, wide);
        return 0;
    }
    return 1;
}

static int borrow_sizes(Problem *p, PyObject *source)
{
    int bounds = 0;
    int good = whole(source, "classes", &p->classes) && whole(source, "words", &p->words)
        && whole(source, "tests", &p->tests) && whole(source, "columns", &p->columns)
        && whole(source, "remedies", &p->remedies) && whole(source, "places", &p->places)
        && whole(source, "levels", &p->levels) && whole(source, "slots", &p->slots)
        && whole(source, "tolls", &p->tolls) && whole(source, "bundles", &p->bundles)
        && whole(source, "most_outcomes", &p->most_outcomes)
        && whole(source, "accesses", &p->accesses) && whole(source, "openings", &p->openings)
        && whole(source, "bounds", &bounds);
    p->bounds = (unsigned)bounds;
    return good;
}

static int borrow_arrays(Loan *loan, PyObject *source)
{
    for (size_t at = 0; at < FIELDS; at++)
        if (!borrow(loan, source, &ARRAYS[at]))
            return 0;
    return 1;
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
