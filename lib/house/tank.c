/* The idea: move heat in whole accounts. Each of loss, draw, heat and mixing
 * takes joules from one place and puts them in another, so the balance closes
 * to rounding however long the step is; the exponential for the loss makes the
 * undisturbed tank exact too. */
#include "house/tank.h"

#include <math.h>
#include <stdbool.h>

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

/* exp() once per step length, not once per step: a day has 86400 of them. */
static double kept_after(struct tank *tank, double dt_s)
{
    if (dt_s != tank->kept_dt_s) {
        double ua_w_k = tank->settings.loss_kwh_day * J_PER_KWH / S_PER_DAY / LOSS_TEST_K;
        tank->kept = exp(-ua_w_k * dt_s / (tank->settings.volume_l * WATER_J_PER_L_K));
        tank->kept_dt_s = dt_s;
    }
    return tank->kept;
}

double tank_loss_j(struct tank *tank, double dt_s)
{
    return tank_heat_j(tank, tank->settings.ambient_c) * (1 - kept_after(tank, dt_s));
}

void tank_lose(struct tank *tank, double dt_s)
{
    double lost_share = 1 - kept_after(tank, dt_s), lost_k = 0;
    double ambient = tank->settings.ambient_c;
    for (int i = 0; i < tank->settings.layers; i++) {
        double k = (tank->layer_c[i] - ambient) * lost_share;
        tank->layer_c[i] -= k;
        lost_k += k;
    }
    tank->lost_j += lost_k * layer_j_k(tank);
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

void tank_draw(struct tank *tank, double litres, double inlet_c)
{
    double slice = tank->settings.volume_l / tank->settings.layers / 2;
    while (litres > slice) {
        draw_slice(tank, slice, inlet_c);
        litres -= slice;
    }
    if (litres > 0)
        draw_slice(tank, litres, inlet_c);
}

void tank_conduct(struct tank *tank, double dt_s)
{
    if (tank->settings.layers == 1)
        return;
    double share = tank->settings.conduction_w_k * dt_s / layer_j_k(tank);
    if (share > 0.25)
        share = 0.25; /* a step too long for the layers: mix, don't overshoot */
    for (int i = 0; i + 1 < tank->settings.layers; i++) {
        double moved = share * (tank->layer_c[i + 1] - tank->layer_c[i]);
        tank->layer_c[i] += moved;
        tank->layer_c[i + 1] -= moved;
    }
}

static bool stands_right(const struct tank *tank)
{
    for (int i = 1; i < tank->settings.layers; i++)
        if (tank->layer_c[i - 1] > tank->layer_c[i])
            return false;
    return true;
}

/* Warmer water below rises until nothing below is warmer: neighbours that stand
 * the wrong way are pooled to their mean, and the pool again with what it meets. */
void tank_rise(struct tank *tank)
{
    if (stands_right(tank))
        return;
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

void tank_heat(struct tank *tank, double height, double j)
{
    tank->layer_c[layer_at(tank, height)] += j / layer_j_k(tank);
    tank->heated_j += j;
}

void tank_step(struct tank *tank, double dt_s, double heat_w, double height, double hot_l,
               double inlet_c)
{
    tank_lose(tank, dt_s);
    tank_draw(tank, hot_l, inlet_c);
    tank_conduct(tank, dt_s);
    tank_heat(tank, height, heat_w * dt_s);
    tank_rise(tank);
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

double tank_mean_c(const struct tank *tank)
{
    return tank_heat_j(tank, 0) / (tank->settings.layers * layer_j_k(tank));
}

double tank_room_j(const struct tank *tank, double height, double at_c)
{
    double j = 0;
    for (int i = layer_at(tank, height); i < tank->settings.layers; i++)
        if (tank->layer_c[i] < at_c)
            j += (at_c - tank->layer_c[i]) * layer_j_k(tank);
    return j;
}
