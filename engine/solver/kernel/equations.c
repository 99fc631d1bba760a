/* Newton's method on the nodal equations as L. Nagel 1975 (SPICE2, ERL-M520) has it: each curved
 * element is put as a straight line at the last solution, and a junction's volts are not let jump
 * (his limiting of W. Kao's and C. Hachtel's kind). A diode's series resistance takes no node: the
 * junction's volts follow from the straight line of the two together. */
#include "equations.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "source.h"

static const double EULER = 2.718281828459045; /* e */

/* A curve's straight line is kept while its variables move less: a share, and volts or amperes. Far
 * under what ends Newton's rounds. Of the algorithm. */
static const double UNMOVED_SHARE = 1e-5, UNMOVED = 1e-7;

/* ---- making ---- */

const char *equations_make(Equations *q, Circuit *c)
{
    size_t variables = (size_t)c->netlist->variables, n = (size_t)c->unknowns + 1;
    size_t slots = (size_t)c->pattern.slots + 1, formula = 1, names = 1;
    memset(q, 0, sizeof *q);
    q->circuit = c;
    q->scale = 1.0;
    for (int k = 0; k < c->curve_count; k++) {
        size_t own = (size_t)expression_room(&c->curves[k].formula.expression);
        formula = own > formula ? own : formula;
        names += 2 * (size_t)c->curves[k].formula.count;
    }
    q->as_slots = malloc(slots * sizeof *q->as_slots);
    q->x = calloc(variables + 2 * slots + 6 * n + names + formula, sizeof *q->x);
    if (!q->as_slots || !q->x)
        return "no memory";
    q->base = q->x + variables;
    q->slots = q->base + slots;
    q->right_base = q->slots + slots;
    q->right = q->right_base + n;
    q->inverse = q->right + n;
    q->work = q->inverse + n;
    q->next = q->work + n;
    q->formula_work = q->next + n;
    double *free_room = q->formula_work + formula;
    for (int k = 0; k < c->curve_count; k++) {
        Curve *curve = c->curves + k;
        curve->slope = free_room;
        curve->at = free_room + curve->formula.count;
        curve->fresh = 1;
        free_room = curve->at + curve->formula.count;
    }
    for (size_t s = 0; s < slots; s++)
        q->as_slots[s] = (int)s;
    return NULL;
}

void equations_free(Equations *q)
{
    free(q->as_slots); free(q->x); free(q->ready);
    order_free(&q->order);
}

/* ---- what stays the same while the step does ---- */

static void stamp(Equations *q, int row, int variable, double value)
{
    Circuit *c = q->circuit;
    if (row < 0 || variable == 0)
        return;
    if (c->column[variable] >= 0)
        q->base[circuit_slot(c, row, c->column[variable])] += value;
    else {
        Known known = {row, variable, -value};
        if (c->known_count == c->known_room) {
            int room = 2 * c->known_room + 16;
            Known *more = realloc(c->knowns, (size_t)room * sizeof *more);
            if (!more)
                return;
            c->knowns = more;
            c->known_room = room;
        }
        c->knowns[c->known_count++] = known;
    }
}

static void stamp_square(Equations *q, int a, int b, double siemens)
{
    const int *row = q->circuit->row;
    stamp(q, row[a], a, siemens);
    stamp(q, row[a], b, -siemens);
    stamp(q, row[b], a, -siemens);
    stamp(q, row[b], b, siemens);
}

static int own_row(const Circuit *c, const Element *e)
{
    return c->column[e->branch >= 0 ? e->branch : e->a + e->b];
}

static void stamp_volts(Equations *q, const Element *e)
{
    const Circuit *c = q->circuit;
    int own;
    if (e->branch >= 0) {
        stamp(q, c->row[e->a], e->branch, 1.0);
        stamp(q, c->row[e->b], e->branch, -1.0);
    } else if (e->kind == KIND_VOLTS)
        return;
    own = own_row(c, e);
    stamp(q, own, e->a, 1.0);
    stamp(q, own, e->b, -1.0);
    if (e->kind == KIND_INDUCTOR)
        stamp(q, own, e->branch, -c->netlist->figures[e->place] * q->rate.now);
    if (e->kind == KIND_STRAIGHT_VOLTS) {
        Formula f = circuit_formula(c->netlist, e);
        for (int k = 0; k < f.count; k++)
            stamp(q, own, f.names[k], -f.numbers[1 + k]);
    }
}

static void stamp_steady(Equations *q, const Element *e)
{
    const Circuit *c = q->circuit;
    double figure = c->netlist->figures[e->place];
    switch (e->kind) {
    case KIND_RESISTOR: stamp_square(q, e->a, e->b, figure); break;
    case KIND_CAPACITOR: stamp_square(q, e->a, e->b, figure * q->rate.now); break;
    case KIND_STRAIGHT_AMPERES: {
        Formula f = circuit_formula(c->netlist, e);
        for (int k = 0; k < f.count; k++) {
            stamp(q, c->row[e->a], f.names[k], f.numbers[1 + k]);
            stamp(q, c->row[e->b], f.names[k], -f.numbers[1 + k]);
        }
        break;
    }
    case KIND_INDUCTOR: case KIND_VOLTS: case KIND_STRAIGHT_VOLTS: case KIND_CURVED_VOLTS:
        stamp_volts(q, e);
        break;
    default: break;
    }
}

/* Puts base values where the order wants them and eliminates what is steady. */
static int make_ready(Equations *q)
{
    const Order *o = &q->order;
    if (!o->lower)
        return 1;
    memset(q->ready, 0, ((size_t)o->size + 1) * sizeof *q->ready);
    for (int s = 0; s < q->circuit->pattern.slots; s++)
        q->ready[o->place[s]] = q->base[s];
    return order_eliminate(o, 0, o->steady, q->ready, q->inverse);
}

void equations_set_rate(Equations *q, Rate rate)
{
    Circuit *c = q->circuit;
    const Netlist *n = c->netlist;
    q->rate = rate;
    c->known_count = 0;
    memset(q->base, 0, ((size_t)c->pattern.slots + 1) * sizeof *q->base);
    for (int v = 1; v < n->variables; v++)
        if (!n->branches[v - 1])
            stamp(q, c->row[v], v, q->care.shunt);
    for (int k = 0; k < n->count; k++)
        stamp_steady(q, n->elements + k);
    stamp_square(q, q->meter.a, q->meter.b, q->meter.siemens);
    if (!make_ready(q))
        order_free(&q->order);
}

/* ---- the right side ---- */

static void add(const Circuit *c, double *right, int a, int b, double amperes)
{
    int n = c->unknowns;
    right[c->row[a] < 0 ? n : c->row[a]] += amperes;
    right[c->row[b] < 0 ? n : c->row[b]] -= amperes;
}

void equations_set_time(Equations *q, double time)
{
    Circuit *c = q->circuit;
    const Netlist *n = c->netlist;
    double *right = q->right_base;
    memset(right, 0, ((size_t)c->unknowns + 1) * sizeof *right);
    for (int k = 0; k < n->count; k++) {
        const Element *e = n->elements + k;
        const double *f = n->figures + e->place;
        switch (e->kind) {
        case KIND_VOLTS: {
            double volts = q->scale * source_value(f, time);
            if (e->branch < 0)
                q->x[e->a + e->b] = e->b ? -volts : volts;
            else
                right[own_row(c, e)] = volts;
            break;
        }
        case KIND_AMPERES: add(c, right, e->a, e->b, -q->scale * source_value(f, time)); break;
        case KIND_STRAIGHT_AMPERES: {
            double amperes = circuit_formula(n, e).numbers[0];
            add(c, right, e->a, e->b, -amperes);
            break;
        }
        case KIND_STRAIGHT_VOLTS: right[own_row(c, e)] = circuit_formula(n, e).numbers[0]; break;
        default: break;
        }
    }
    add(c, right, q->meter.a, q->meter.b, q->meter.siemens * q->meter.volts);
    for (int k = 0; k < c->known_count; k++)
        right[c->knowns[k].row] += c->knowns[k].factor * q->x[c->knowns[k].variable];
    for (int k = 0; k < c->store_count; k++) {
        const Store *s = c->stores + k;
        add(c, right, s->a, s->b,
            -s->farads * (q->rate.before * s->before + q->rate.earlier * s->earlier));
    }
    for (int k = 0; k < c->coil_count; k++) {
        const Coil *l = c->coils + k;
        right[l->row] = l->henries * (q->rate.before * l->before + q->rate.earlier * l->earlier);
    }
}

/* ---- curved elements ---- */

/* Nagel's limit on the step of a junction's volts. */
static double limit(double new, double old, double thermal, double critical, int *limited)
{
    if (new <= critical || fabs(new - old) <= 2 * thermal)
        return new;
    *limited = 1;
    if (old <= 0)
        return thermal * log(new / thermal);
    double jump = 1 + (new - old) / thermal;
    return jump > 0 ? old + thermal * log(jump) : critical;
}

/* The stored charge of a junction and its slope (half way to the built-in volts it goes straight
 * on, as SPICE's FC of 0.5 has it). */
static double charge(const Diode *d, double volts, double *farads)
{
    double share = 1 - volts / d->junction, half = 1 - d->grading;
    if (share >= 0.5) {
        double root = d->grading == 0.5 ? 1 / sqrt(share) : pow(share, -d->grading);
        *farads = d->farads * root;
        return d->farads * d->junction * (1 - share * root) / half;
    }
    double edge = 0.5 * d->junction, root = pow(0.5, -d->grading);
    double slope = d->farads * root * d->grading / (0.5 * d->junction);
    *farads = d->farads * root + slope * (volts - edge);
    return d->farads * d->junction * (1 - 0.5 * root) / half
           + (volts - edge) * (d->farads * root + 0.5 * slope * (volts - edge));
}

/* Amperes through a junction and their slope, as SPICE's diode model has them. */
static double junction(const Diode *d, double volts, double *siemens)
{
    if (volts >= -3 * d->thermal) {
        double e = exp(volts / d->thermal);
        *siemens = d->amperes * e / d->thermal;
        return d->amperes * (e - 1);
    }
    if (volts >= -d->breakdown) {
        double x = 3 * d->thermal / (volts * EULER);
        x = x * x * x;
        *siemens = d->amperes * 3 * x / volts;
        return -d->amperes * (1 + x);
    }
    double e = exp(-(d->breakdown + volts) / d->breakdown_thermal);
    *siemens = d->amperes * e / d->breakdown_thermal;
    return -d->amperes * e;
}

/* The diode as a straight line at x: a conductance and amperes at no volts. Whether its junction
 * was kept from jumping. */
static int put_straight(Diode *d, const double *x, double leak, Rate rate)
{
    double outer = x[d->a] - x[d->b], siemens, farads, amperes;
    double volts = outer - d->ohms * (d->conductance * outer + d->offset);
    int limited = 0;
    if (isfinite(d->breakdown) && volts < fmin(0, -d->breakdown + 10 * d->breakdown_thermal)) {
        double over = limit(-(volts + d->breakdown), -(d->volts + d->breakdown),
                            d->breakdown_thermal, d->critical, &limited);
        volts = -(over + d->breakdown);
    } else
        volts = limit(volts, d->volts, d->thermal, d->critical, &limited);
    amperes = junction(d, volts, &siemens) + leak * volts;
    siemens += leak;
    if (d->farads > 0 && rate.now > 0) {
        d->charge = charge(d, volts, &farads);
        siemens += rate.now * farads;
        amperes += rate.now * d->charge + rate.before * d->before + rate.earlier * d->earlier;
    }
    d->volts = volts;
    d->conductance = siemens / (1 + siemens * d->ohms);
    d->offset = (amperes - siemens * volts) / (1 + siemens * d->ohms);
    return limited;
}

static void put_diode(const Equations *q, const Diode *d, const int *place, double *values)
{
    double g = d->conductance, known = (d->knows_a ? q->x[d->a] : 0) - (d->knows_b ? q->x[d->b] : 0);
    int unknowns = q->circuit->unknowns;
    values[place[d->slot[0]]] += g;
    values[place[d->slot[1]]] -= g;
    values[place[d->slot[2]]] -= g;
    values[place[d->slot[3]]] += g;
    q->right[d->row_a < 0 ? unknowns : d->row_a] -= d->offset + g * known;
    q->right[d->row_b < 0 ? unknowns : d->row_b] += d->offset + g * known;
}

/* Whether no variable has moved so far that the straight line is another (SPICE's bypass). */
static int still_straight(const Curve *k, const double *x)
{
    for (int i = 0; i < k->formula.count; i++) {
        double new = x[k->formula.names[i]];
        if (fabs(new - k->at[i]) > UNMOVED_SHARE * fabs(new) + UNMOVED)
            return 0;
    }
    return !k->fresh;
}

static void straighten_curve(Equations *q, Curve *k)
{
    const Formula *f = &k->formula;
    for (int i = 0; i < f->count; i++)
        k->at[i] = q->x[f->names[i]];
    k->rest = expression_value(&f->expression, k->at, k->slope, q->formula_work);
    for (int i = 0; i < f->count; i++)
        k->rest -= k->slope[i] * k->at[i];
    k->fresh = 0;
}

static void put_curve(Equations *q, const Curve *k, const int *place, double *values)
{
    const Circuit *c = q->circuit;
    const int *slot = c->curve_slots + k->begin;
    double rest = k->rest;
    for (int i = 0; i < k->formula.count; i++) {
        double slope = k->slope[i];
        values[place[slot[2 * i]]] += k->sign_a * slope;
        values[place[slot[2 * i + 1]]] += k->sign_b * slope;
        if (c->column[k->formula.names[i]] < 0)
            rest += slope * q->x[k->formula.names[i]];
    }
    q->right[k->row_a < 0 ? c->unknowns : k->row_a] -= k->sign_a * rest;
    q->right[k->row_b < 0 ? c->unknowns : k->row_b] -= k->sign_b * rest;
}

int equations_straighten(Equations *q)
{
    Circuit *c = q->circuit;
    int limited = 0;
    for (int k = 0; k < c->diode_count; k++)
        limited |= put_straight(c->diodes + k, q->x, q->care.junction, q->rate);
    for (int k = 0; k < c->curve_count; k++)
        if (!still_straight(c->curves + k, q->x))
            straighten_curve(q, c->curves + k);
    return limited;
}

static void add_curved(Equations *q, const int *place, double *values)
{
    const Circuit *c = q->circuit;
    memcpy(q->right, q->right_base, ((size_t)c->unknowns + 1) * sizeof *q->right);
    for (int k = 0; k < c->diode_count; k++)
        put_diode(q, c->diodes + k, place, values);
    for (int k = 0; k < c->curve_count; k++)
        put_curve(q, c->curves + k, place, values);
}

void equations_matrix(Equations *q, double *slots)
{
    memcpy(slots, q->base, ((size_t)q->circuit->pattern.slots + 1) * sizeof *slots);
    add_curved(q, q->as_slots, slots);
}

/* ---- solving ---- */

static int put_in_order(Equations *q)
{
    Circuit *c = q->circuit;
    q->effort.orders++;
    equations_matrix(q, q->slots);
    order_free(&q->order);
    q->order = order_make(&c->pattern, q->slots);
    if (!q->order.lower)
        return 0;
    if (q->order.size + 1 > q->room) {
        free(q->ready);
        q->room = q->order.size + 1;
        q->ready = calloc(2 * (size_t)q->room, sizeof *q->ready);
        if (!q->ready) {
            q->room = 0;
            order_free(&q->order);
            return 0;
        }
        q->values = q->ready + q->room;
    }
    return make_ready(q);
}

static int eliminate(Equations *q)
{
    const Order *o = &q->order;
    memcpy(q->values, q->ready, ((size_t)o->size + 1) * sizeof *q->values);
    add_curved(q, o->place, q->values);
    return order_eliminate(o, o->steady, o->n, q->values, q->inverse);
}

/* One solution of the straightened equations into `next`. */
static int solve_straight(Equations *q)
{
    q->effort.rounds++;
    if (!q->order.lower || !eliminate(q)) {
        if (!put_in_order(q))
            return 0;
        eliminate(q);
    }
    order_solve(&q->order, q->values, q->inverse, q->right, q->work, q->next);
    return 1;
}

/* From these rounds on only half and a fifth of a step is taken: where a law has a kink, whole
 * steps may jump to and fro across it for ever (damped Newton). Of the algorithm. */
enum { HALF_FROM = 20, FIFTH_FROM = 60 };

/* Takes x towards `next`; whether it was near enough. -1 where it is no solution. */
static int take_next(Equations *q, int round)
{
    const double part = round < HALF_FROM ? 1 : round < FIFTH_FROM ? 0.5 : 0.2;
    const Circuit *c = q->circuit;
    int near = 1;
    for (int v = 1; v < c->netlist->variables; v++) {
        if (c->column[v] < 0)
            continue;
        double new = q->next[c->column[v]], old = q->x[v];
        if (!isfinite(new))
            return -1;
        double least = c->netlist->branches[v - 1] ? q->care.amperes : q->care.volts;
        if (fabs(new - old) > q->care.relative * fmax(fabs(new), fabs(old)) + least)
            near = 0;
        q->x[v] = old + part * (new - old);
    }
    return near;
}

int equations_solve(Equations *q)
{
    for (int round = 0; round < q->care.rounds; round++) {
        int limited = equations_straighten(q);
        if (!solve_straight(q))
            return 0;
        int near = take_next(q, round);
        if (near < 0)
            return 0;
        if (near && !limited)
            return 1;
    }
    return 0;
}

void equations_accept(Equations *q)
{
    Circuit *c = q->circuit;
    for (int k = 0; k < c->store_count; k++) {
        Store *s = c->stores + k;
        s->earlier = s->before;
        s->before = q->x[s->a] - q->x[s->b];
    }
    for (int k = 0; k < c->coil_count; k++) {
        Coil *l = c->coils + k;
        l->earlier = l->before;
        l->before = q->x[l->branch];
    }
    for (int k = 0; k < c->diode_count; k++) {
        Diode *d = c->diodes + k;
        d->earlier = d->before;
        d->before = d->charge;
    }
}
