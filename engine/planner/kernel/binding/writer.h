/* Plans as Python objects. */
#ifndef NEXTPROBE_WRITER_H
#define NEXTPROBE_WRITER_H

#define PY_SSIZE_T_CLEAN
#include <Python.h>

#include "search.h"

/* The plan from the root as a list of tuples (test, remedy, openings, place, members, code,
 * children), children before their parents; `at` gets the root's index. With `optimal`, what the
 * memo lost is searched again; without, the best plan known is followed. NULL with an exception. */
PyObject *write_plan(Search *search, const Node *root, int optimal, long *at);

#endif
