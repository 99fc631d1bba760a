/* Modified nodal analysis (C.-W. Ho, A. Ruehli, P. Brennan 1975, IEEE Trans. Circuits and Systems
 * CAS-22:504): a row for the sum of currents at each node, a row and a variable for each source and
 * inductor. A source from ground needs none: the node of an independent one is known, and that of a
 * dependent one has the source's equation in place of a sum of currents nobody asks for. */
#include "circuit.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "source.h"

/* k/e times 300.15 K, the temperature SPICE takes: volts. */
static const double THERMAL_VOLTS = 0.0258649;
/* Unknowns that a matrix may have. Of the algorithm: its order is found in a square. */
static const int MOST_UNKNOWNS = 1500;
/* Rounds in which the volts where breakdown sets in are found. Of the algorithm. */
static const int BREAKDOWN_ROUNDS = 25;

static int is_volts(int kind)
{
    return kind == KIND_VOLTS || kind == KIND_STRAIGHT_VOLTS || kind == KIND_CURVED_VOLTS;
}

static const int FIGURES[] = {0, 1, 2, 2, 9};

static int formula_sound(const Netlist *n, const Element *e)
{
    if (e->place < 0 || e->place + 4L > n->program_room)
        return 0;
    const int *p = n->programs + e->place;
    if (p[0] < 0 || p[1] < 0 || p[2] < 0 || p[3] < 0 || e->place + 4L + p[0] + 4L * p[2] > n->program_room
        || p[3] + (long)p[1] > n->figure_room)
        return 0;
    for (int k = 0; k < p[0]; k++)
        if (p[4 + k] < 0 || p[4 + k] >= n->variables)
            return 0;
    Formula f = circuit_formula(n, e);
    if (e->kind >= KIND_CURVED_AMPERES)
        return expression_sound(&f.expression);
    return p[1] == p[0] + 1 && p[2] == 0;
}

static int element_sound(const Netlist *n, const Element *e)
{
    if (e->kind < KIND_RESISTOR || e->kind > KIND_CURVED_VOLTS || e->a < 0 || e->b < 0
        || e->a >= n->variables || e->b >= n->variables || e->branch >= n->variables
        || e->branch == 0 || e->branch < -1 || e->place < 0)
        return 0;
    if (e->branch < 0 && (e->kind == KIND_INDUCTOR || (is_volts(e->kind) && (e->a != 0) == (e->b != 0))))
        return 0;
    if (e->kind >= KIND_STRAIGHT_AMPERES)
        return formula_sound(n, e);
    if (e->kind >= KIND_VOLTS)
        return source_sound(n->figures + e->place, n->figure_room - e->place);
    return e->place + (long)FIGURES[e->kind] <= n->figure_room;
}

Formula circuit_formula(const Netlist *n, const Element *e)
{
    const int *p = n->programs + e->place;
    Formula f = {p[0], p + 4, n->figures + p[3], {p[0], p[1], p[2], p + 4 + p[0], n->figures + p[3]}};
    return f;
}

int circuit_slot(const Circuit *c, int row, int column)
{
    if (row < 0 || column < 0)
        return c->pattern.slots;
    return c->slot_of[(size_t)row * c->unknowns + column];
}

/* ---- numbering ---- */

static const char *number_variables(Circuit *c)
{
    const Netlist *n = c->netlist;
    for (int v = 0; v < n->variables; v++)
        c->column[v] = v ? 0 : -1;
    for (int k = 0; k < n->count; k++) {
        const Element *e = n->elements + k;
        if (e->kind == KIND_VOLTS && e->branch < 0) {
            if (c->column[e->a + e->b] < 0)
                return "two sources drive one node";
            c->column[e->a + e->b] = -1;
        }
    }
    for (int v = 1; v < n->variables; v++)
        if (c->column[v] >= 0)
            c->column[v] = c->unknowns++;
    for (int v = 0; v < n->variables; v++)
        c->row[v] = c->column[v];
    for (int k = 0; k < n->count; k++) {
        const Element *e = n->elements + k;
        if (is_volts(e->kind) && e->kind != KIND_VOLTS && e->branch < 0) {
            if (c->row[e->a + e->b] < 0)
                return "two sources drive one node";
            c->row[e->a + e->b] = -1;
        }
    }
    return c->unknowns > MOST_UNKNOWNS ? "too many unknowns" : NULL;
}

/* The row of a voltage source's own equation. */
static int own_row(const Circuit *c, const Element *e)
{
    return c->column[e->branch >= 0 ? e->branch : e->a + e->b];
}

/* ---- the pattern ---- */

static void touch(Circuit *c, int row, int column, char steady)
{
    if (row < 0 || column < 0)
        return;
    int *slot = c->slot_of + (size_t)row * c->unknowns + column;
    Pattern *p = &c->pattern;
    if (*slot < 0) {
        *slot = p->slots++;
        p->row[*slot] = row;
        p->col[*slot] = column;
        p->steady[*slot] = 1;
    }
    p->steady[*slot] = p->steady[*slot] && steady;
}

static void touch_square(Circuit *c, int a, int b, char steady)
{
    touch(c, c->row[a], c->column[a], steady);
    touch(c, c->row[a], c->column[b], steady);
    touch(c, c->row[b], c->column[a], steady);
    touch(c, c->row[b], c->column[b], steady);
}

static void touch_element(Circuit *c, const Element *e)
{
    int ra = c->row[e->a], rb = c->row[e->b], own = -1;
    char steady = e->kind != KIND_DIODE && e->kind < KIND_CURVED_AMPERES;
    if (e->kind <= KIND_DIODE && e->kind != KIND_INDUCTOR) {
        touch_square(c, e->a, e->b, steady);
        return;
    }
    if (e->branch >= 0) {
        touch(c, ra, c->column[e->branch], 1);
        touch(c, rb, c->column[e->branch], 1);
    }
    if (e->kind == KIND_INDUCTOR || is_volts(e->kind)) {
        if (e->kind == KIND_VOLTS && e->branch < 0)
            return;
        own = own_row(c, e);
        touch(c, own, c->column[e->a], 1);
        touch(c, own, c->column[e->b], 1);
        if (e->kind == KIND_INDUCTOR)
            touch(c, own, c->column[e->branch], 1);
    }
    if (e->kind < KIND_STRAIGHT_AMPERES)
        return;
    Formula f = circuit_formula(c->netlist, e);
    for (int k = 0; k < f.count; k++) {
        int column = c->column[f.names[k]];
        if (is_volts(e->kind))
            touch(c, own, column, steady);
        else {
            touch(c, ra, column, steady);
            touch(c, rb, column, steady);
        }
    }
}

/* ---- parts with a memory or a bend ---- */

/* Where breakdown must set in for its current to be right at the rated volts (as ngspice has it). */
static double breakdown_volts(double rated, double amperes, double at_rated, double thermal,
                              double breakdown_thermal)
{
    if (!(rated > 0))
        return INFINITY;
    if (at_rated < amperes * rated / thermal)
        return rated;
    double volts = rated - breakdown_thermal * log(1 + at_rated / amperes);
    for (int round = 0; round < BREAKDOWN_ROUNDS; round++)
        volts = rated - breakdown_thermal * log(at_rated / amperes + 1 - volts / thermal);
    return volts;
}

static void set_diode(Circuit *c, const Element *e)
{
    const double *f = c->netlist->figures + e->place;
    Diode *d = c->diodes + c->diode_count++;
    memset(d, 0, sizeof *d);
    d->a = e->a;
    d->b = e->b;
    d->row_a = c->row[e->a];
    d->row_b = c->row[e->b];
    d->slot[0] = circuit_slot(c, d->row_a, c->column[e->a]);
    d->slot[1] = circuit_slot(c, d->row_a, c->column[e->b]);
    d->slot[2] = circuit_slot(c, d->row_b, c->column[e->a]);
    d->slot[3] = circuit_slot(c, d->row_b, c->column[e->b]);
    d->knows_a = c->column[e->a] < 0;
    d->knows_b = c->column[e->b] < 0;
    d->amperes = f[0];
    d->thermal = f[1] * THERMAL_VOLTS;
    d->ohms = f[2];
    d->breakdown_thermal = f[5] * THERMAL_VOLTS;
    d->breakdown = breakdown_volts(f[3], f[0], f[4], THERMAL_VOLTS, d->breakdown_thermal);
    d->farads = f[6];
    d->junction = f[7];
    d->grading = f[8];
    d->critical = d->thermal * log(d->thermal / (sqrt(2.0) * f[0]));
}

static void set_curve(Circuit *c, const Element *e, int *slots)
{
    Curve *k = c->curves + c->curve_count++;
    k->formula = circuit_formula(c->netlist, e);
    k->begin = *slots;
    if (is_volts(e->kind)) {
        k->row_a = own_row(c, e);
        k->row_b = -1;
        k->sign_a = -1.0;
        k->sign_b = 0.0;
    } else {
        k->row_a = c->row[e->a];
        k->row_b = c->row[e->b];
        k->sign_a = 1.0;
        k->sign_b = -1.0;
    }
    for (int i = 0; i < k->formula.count; i++) {
        int column = c->column[k->formula.names[i]];
        c->curve_slots[(*slots)++] = circuit_slot(c, k->row_a, column);
        c->curve_slots[(*slots)++] = circuit_slot(c, k->row_b, column);
    }
}

static void set_parts(Circuit *c)
{
    int slots = 0;
    for (int k = 0; k < c->netlist->count; k++) {
        const Element *e = c->netlist->elements + k;
        const double *f = c->netlist->figures + e->place;
        if (e->kind == KIND_DIODE)
            set_diode(c, e);
        else if (e->kind >= KIND_CURVED_AMPERES)
            set_curve(c, e, &slots);
        else if (e->kind == KIND_CAPACITOR) {
            Store s = {e->a, e->b, f[0], f[1], f[1]};
            c->stores[c->store_count++] = s;
        } else if (e->kind == KIND_INDUCTOR) {
            Coil l = {own_row(c, e), e->branch, f[0], f[1], f[1]};
            c->coils[c->coil_count++] = l;
        }
    }
}

/* ---- making and freeing ---- */

static int make_room(Circuit *c)
{
    const Netlist *n = c->netlist;
    size_t unknowns = (size_t)c->unknowns, entries = 4 + unknowns, names = 1;
    for (int k = 0; k < n->count; k++) {
        entries += 8;
        if (n->elements[k].kind >= KIND_STRAIGHT_AMPERES) {
            size_t own = 2 * (size_t)circuit_formula(n, n->elements + k).count;
            entries += own;
            names += own;
        }
    }
    if (entries > unknowns * unknowns + 1)
        entries = unknowns * unknowns + 1;
    c->slot_of = malloc((unknowns * unknowns + 1) * sizeof *c->slot_of);
    c->pattern.row = malloc(2 * entries * sizeof *c->pattern.row);
    c->pattern.steady = malloc(entries);
    c->curve_slots = malloc(names * sizeof *c->curve_slots);
    c->diodes = malloc(((size_t)n->count + 1) * sizeof *c->diodes);
    c->curves = malloc(((size_t)n->count + 1) * sizeof *c->curves);
    c->stores = malloc(((size_t)n->count + 1) * sizeof *c->stores);
    c->coils = malloc(((size_t)n->count + 1) * sizeof *c->coils);
    if (!c->coils || !c->slot_of || !c->pattern.row || !c->pattern.steady || !c->curve_slots || !c->diodes
        || !c->curves || !c->stores)
        return 0;
    memset(c->slot_of, 0xff, (unknowns * unknowns + 1) * sizeof *c->slot_of);
    c->pattern.col = c->pattern.row + entries;
    c->pattern.n = c->unknowns;
    return 1;
}

const char *circuit_make(Circuit *c, const Netlist *n, int a, int b)
{
    memset(c, 0, sizeof *c);
    c->netlist = n;
    for (int k = 0; k < n->count; k++)
        if (!element_sound(n, n->elements + k))
            return "an element is none";
    c->column = malloc(2 * ((size_t)n->variables + 1) * sizeof *c->column);
    if (!c->column)
        return "no memory";
    c->row = c->column + n->variables + 1;
    const char *wrong = number_variables(c);
    if (wrong)
        return wrong;
    if (!make_room(c))
        return "no memory";
    for (int v = 1; v < n->variables; v++)
        if (!n->branches[v - 1])
            touch(c, c->row[v], c->column[v], 1);
    for (int k = 0; k < n->count; k++)
        touch_element(c, n->elements + k);
    touch_square(c, a, b, 1);
    set_parts(c);
    return NULL;
}

void circuit_free(Circuit *c)
{
    free(c->column); free(c->slot_of); free(c->pattern.row); free(c->pattern.steady);
    free(c->curve_slots); free(c->diodes); free(c->curves); free(c->stores); free(c->coils);
    free(c->knowns);
}
