/* What independent sources give over time. */
#ifndef SOLVER_SOURCE_H
#define SOLVER_SOURCE_H

/* As numbered in engine/solver/cards.py. */
enum { SHAPE_DC, SHAPE_SIN, SHAPE_PULSE, SHAPE_PWL };

/* Whether the numbers (shape, how many follow, those) make a source within `room`. */
int source_sound(const double *source, long room);

/* Its volts or amperes at a time, seconds. */
double source_value(const double *source, double time);

/* The next time after `time` at which its course has a corner; infinite where none comes. */
double source_corner(const double *source, double time);

#endif
