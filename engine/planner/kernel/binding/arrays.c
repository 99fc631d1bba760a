/* The border with Python. Every array is held to its type, to lie in one piece, and to the length
 * that the problem's sizes ask for, in constant time; what indices it holds is not looked at. */
#include "arrays.h"

#include <string.h>

/* How many elements an array has at least: a product of two sizes of the problem. */
typedef enum {
    ONE, CLASSES, CLASSES_AND_ONE, WORDS, TESTS, TESTS_AND_ONE, OUTCOMES, REMEDIES, PLACES, LEVELS,
    ACCESS_SETS, OPENINGS, OPENINGS_AND_ONE, CUTS, BUNDLES, BITS
} Size;

/* An array of the problem: its name in Python, its place in `Problem`, what its elements are (d
 * double, i int, w Word, b byte, h half word), and how many there are at least. */
typedef struct {
    const char *name;
    size_t place;
    char kind;
    Size rows, columns;
} Array;

#define ARRAY(name, part, kind, rows, columns) {name, offsetof(Problem, part), kind, rows, columns}

static const Array ARRAYS[] = {
    ARRAY("weight", classes.weight, 'd', CLASSES, ONE),
    ARRAY("regret", remedies.regret, 'd', CLASSES, REMEDIES),
    ARRAY("joint_regret", remedies.joint_regret, 'd', CLASSES, CLASSES),
    ARRAY("remedy_requirements", remedies.requirements, 'w', REMEDIES, ONE),
    ARRAY("cluster", clusters.id, 'i', LEVELS, CLASSES),
    ARRAY("outside_regret", clusters.outside_regret, 'd', LEVELS, CLASSES),
    ARRAY("minutes", tests.minutes, 'd', TESTS, ONE),
    ARRAY("need", tests.need, 'w', TESTS, ONE),
    ARRAY("place", tests.place, 'i', TESTS, ONE),
    ARRAY("bars", tests.bars, 'w', TESTS, ONE),
    ARRAY("test_requirements", tests.requirements, 'w', TESTS, ONE),
    ARRAY("first_outcome", outcomes.first, 'i', TESTS_AND_ONE, ONE),
    ARRAY("odds", outcomes.odds, 'd', OUTCOMES, CLASSES),
    ARRAY("support", outcomes.support, 'w', OUTCOMES, WORDS),
    ARRAY("short_bit", outcomes.short_bit, 'w', OUTCOMES, ONE),
    ARRAY("fulfilment", outcomes.fulfilment, 'w', OUTCOMES, ONE),
    ARRAY("row_class", rows.id, 'i', TESTS, CLASSES),
    ARRAY("row_class_members", rows.members, 'w', ONE, WORDS),
    ARRAY("mixed", rows.mixed, 'w', TESTS, WORDS),
    ARRAY("answer", rows.answer, 'b', TESTS, CLASSES),
    ARRAY("slot", rows.slot, 'i', TESTS, ONE),
    ARRAY("row_number", row_pairs.row, 'h', TESTS, CLASSES),
    ARRAY("row_count", row_pairs.rows, 'i', TESTS, ONE),
    ARRAY("row_pair_first", row_pairs.first, 'i', TESTS_AND_ONE, ONE),
    ARRAY("row_pair_odds", row_pairs.odds, 'd', ONE, ONE),
    ARRAY("direct", places.direct, 'd', PLACES, PLACES),
    ARRAY("hands_in", places.hands_in, 'd', PLACES, PLACES),
    ARRAY("entry", places.entry, 'd', PLACES, ONE),
    ARRAY("opening_minutes", openings.minutes, 'd', BITS, ONE),
    ARRAY("prerequisites", openings.prerequisites, 'w', OPENINGS_AND_ONE, ONE),
    ARRAY("leads", openings.leads, 'w', ONE, ONE),
    ARRAY("bundle", openings.bundle, 'w', BUNDLES, ONE),
    ARRAY("access_set", access.openings, 'w', ACCESS_SETS, ONE),
    ARRAY("next_access_set", access.next, 'i', ACCESS_SETS, OPENINGS),
    ARRAY("cell", access.cell, 'i', ACCESS_SETS, CLASSES),
    ARRAY("cut_minutes", cuts.minutes, 'd', CUTS, ONE),
    ARRAY("behind_cut", cuts.behind, 'b', CUTS, PLACES),
    ARRAY("class_requirements", requirements.of_class, 'w', CLASSES, ONE),
    ARRAY("due_first", requirements.due_first, 'i', CLASSES_AND_ONE, ONE),
    ARRAY("due", requirements.due, 'i', ONE, ONE),
    ARRAY("forfeit", requirements.forfeit, 'd', ONE, ONE),
};

enum { FIELDS = sizeof ARRAYS / sizeof *ARRAYS };

_Static_assert((int)FIELDS <= (int)MOST_ARRAYS, "a view for each array");

static Py_ssize_t size_of(const Problem *p, Size size)
{
    switch (size) {
    case CLASSES: return p->classes.count;
    case CLASSES_AND_ONE: return p->classes.count + 1;
    case WORDS: return p->classes.words;
    case TESTS: return p->tests.count;
    case TESTS_AND_ONE: return p->tests.count + 1;
    case OUTCOMES: return p->outcomes.count;
    case REMEDIES: return p->remedies.count;
    case PLACES: return p->places.count;
    case LEVELS: return p->clusters.levels;
    case ACCESS_SETS: return p->access.count;
    case OPENINGS: return p->openings.count;
    case OPENINGS_AND_ONE: return p->openings.count + 1;
    case CUTS: return p->cuts.count;
    case BUNDLES: return p->openings.bundles;
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
    Py_buffer *view = &loan->view[loan->count];
    int failure = PyObject_GetBuffer(array, view, PyBUF_C_CONTIGUOUS | PyBUF_FORMAT);
    Py_DECREF(array);
    if (failure)
        return 0;
    loan->count++;
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

/* ValueError for a size below zero, or too large. */
static int read_size(PyObject *source, const char *name, int *value)
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

static int read_sizes(Problem *p, PyObject *source)
{
    int bounds = 0;
    int success = read_size(source, "classes", &p->classes.count)
        && read_size(source, "words", &p->classes.words)
        && read_size(source, "tests", &p->tests.count)
        && read_size(source, "outcomes", &p->outcomes.count)
        && read_size(source, "most_outcomes", &p->outcomes.most)
        && read_size(source, "remedies", &p->remedies.count)
        && read_size(source, "places", &p->places.count)
        && read_size(source, "cluster_levels", &p->clusters.levels)
        && read_size(source, "slots", &p->rows.slots)
        && read_size(source, "cuts", &p->cuts.count)
        && read_size(source, "openings", &p->openings.count)
        && read_size(source, "bundles", &p->openings.bundles)
        && read_size(source, "access_sets", &p->access.count)
        && read_size(source, "bounds", &bounds);
    p->bounds = (unsigned)bounds;
    return success;
}

int loan_take(Loan *loan, PyObject *source)
{
    memset(loan, 0, sizeof *loan);
    if (!read_sizes(&loan->problem, source))
        return 0;
    for (size_t at = 0; at < FIELDS; at++)
        if (!borrow(loan, source, &ARRAYS[at]))
            return 0;
    return 1;
}

void loan_return(Loan *loan)
{
    while (loan->count)
        PyBuffer_Release(&loan->view[--loan->count]);
}
