/* The idea: move heat in whole accounts. Each of loss, draw, heat and mixing
 * takes joules from one place and puts them in another, so the balance closes
 * to rounding however long the step is; the exponential for the loss makes the
 * undisturbed tank exact too. */
#include "house/tank.h"

#include <math.h>

#define LOSS_TEST_K 55.0
#define J_PER_KWH 3.6e6
#define S_PER_DAY 86400.0

void tank_fill(struct tank *tank, const struct tank_settings *settings, double water_c)
{
    *tank = (struct tank){.settings = *settings};
    for (int i = 0; i < settings->layers; i++)
        tank->layer_c[i] = water_c;
}

static double layer_j_k(const struct tank *tank)
{
    return tank->settings.volume_l / tank->settings.layers * WATER_J_PER_L_K;
}

static int layer_at(const struct tank *tank, double height)
{
    int layer = (int)(height * tank->settings.layers);
    if (layer < 0)
        return 0;
    return layer < tank->settings.layers ? layer : tank->settings.layers - 1;
}

static void lose(struct tank *tank, double dt_s)
{
    /* exp() once per step length, not once per step: a day has 86400 of them. */
    if (dt_s != tank->kept_dt_s) {
        double ua_w_k = tank->settings.loss_kwh_day * J_PER_KWH / S_PER_DAY / LOSS_TEST_K;
        tank->kept = exp(-ua_w_k * dt_s / (tank->settings.volume_l * WATER_J_PER_L_K));
        tank->kept_dt_s = dt_s;
    }
    double ambient = tank->settings.ambient_c;
    for (int i = 0; i < tank->settings.layers; i++) {
        double lost_k = (tank->layer_c[i] - ambient) * (1.0 - tank->kept);
        tank->layer_c[i] -= lost_k;
        tank->lost_j += lost_k * layer_j_k(tank);
    }
}

/* Less than a layer at a time: a step that drew more would skip one. */
static void draw_slice(struct tank *tank, double litres, double inlet_c)
{
    int top = tank->settings.layers - 1;
    double share = litres / (tank->settings.volume_l / tank->settings.layers);
    tank->drawn_j += litres * WATER_J_PER_L_K * (tank->layer_c[top] - inlet_c);
    for (int i = top; i > 0; i--)
        tank->layer_c[i] += share * (tank->layer_c[i - 1] - tank->layer_c[i]);
    tank->layer_c[0] += share * (inlet_c - tank->layer_c[0]);
}

static void draw(struct tank *tank, double litres, double inlet_c)
{
    double slice = tank->settings.volume_l / tank->settings.layers / 2;
    while (litres > slice) {
        draw_slice(tank, slice, inlet_c);
        litres -= slice;
    }
    if (litres > 0)
        draw_slice(tank, litres, inlet_c);
}

static void conduct(struct tank *tank, double dt_s)
{
    double share = tank->settings.conduction_w_k * dt_s / layer_j_k(tank);
    if (share > 0.25)
        share = 0.25; /* a step too long for the layers: mix, don't overshoot */
    for (int i = 0; i + 1 < tank->settings.layers; i++) {
        double moved = share * (tank->layer_c[i + 1] - tank->layer_c[i]);
        tank->layer_c[i] += moved;
        tank->layer_c[i + 1] -= moved;
    }
}

/* Warmer water below rises until nothing below is warmer: neighbours that stand
 * the wrong way are pooled to their mean, and the pool again with what it meets. */
static void rise(struct tank *tank)
{
    double mean[TANK_LAYERS_MAX];
    int count[TANK_LAYERS_MAX], pools = 0;
    for (int i = 0; i < tank->settings.layers; i++) {
        mean[pools] = tank->layer_c[i];
        count[pools++] = 1;
        while (pools > 1 && mean[pools - 2] > mean[pools - 1]) {
            int together = count[pools - 2] + count[pools - 1];
            mean[pools - 2] =
                (mean[pools - 2] * count[pools - 2] + mean[pools - 1] * count[pools - 1]) /
                together;
            count[pools - 2] = together;
            pools--;
        }
    }
    for (int pool = 0, i = 0; pool < pools; pool++)
        for (int n = 0; n < count[pool]; n++)
            tank->layer_c[i++] = mean[pool];
}

void tank_step(struct tank *tank, double dt_s, double heat_w, double height, double hot_l,
               double inlet_c)
{
    lose(tank, dt_s);
    draw(tank, hot_l, inlet_c);
    conduct(tank, dt_s);
    tank->layer_c[layer_at(tank, height)] += heat_w * dt_s / layer_j_k(tank);
    tank->heated_j += heat_w * dt_s;
    rise(tank);
}

double tank_at_c(const struct tank *tank, double height)
{
    return tank->layer_c[layer_at(tank, height)];
}

double tank_heat_j(const struct tank *tank, double above_c)
{
    double j = 0;
    for (int i = 0; i < tank->settings.layers; i++)
        j += (tank->layer_c[i] - above_c) * layer_j_k(tank);
    return j;
}
