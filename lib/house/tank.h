/* tank.h - a storage tank, in layers from the bottom up.
 *
 * Each layer is well mixed; warm water rises at once, cold water comes in at the
 * bottom and hot water leaves at the top. One layer is the fully mixed tank of
 * the handbooks. Loss follows the temperature difference to the room: with
 * neither heat nor draw, T(t) = Ta + (T0 - Ta) exp(-t / tau).
 *
 * Sources: water 4186 J/(kg K) taken at 1 kg/L (handbook value; 2 % too much
 * mass at 60 C); standing loss stated at 55 K as AS/NZS 4692.2 tests it (store
 * 75 C, air 20 C); layers as the multi-node tank of Duffie and Beckman, "Solar
 * Engineering of Thermal Processes", chapter "Stratification in storage tanks"
 * (from memory). */
#ifndef SLUICE_HOUSE_TANK_H
#define SLUICE_HOUSE_TANK_H

enum { TANK_LAYERS_MAX = 24 };

#define WATER_J_PER_L_K 4186.0

struct tank_settings {
    double volume_l;
    double loss_kwh_day; /* at 55 K between store and room */
    double ambient_c;
    double conduction_w_k; /* between neighbouring layers */
    int layers;            /* 1..TANK_LAYERS_MAX */
};

struct tank {
    struct tank_settings settings;
    double layer_c[TANK_LAYERS_MAX]; /* [0] is the bottom */
    double kept;                     /* share of the difference to the room left after kept_dt_s */
    double kept_dt_s;
    double heated_j, lost_j, drawn_j; /* since tank_fill; drawn above the inlet's temperature */
};

void tank_fill(struct tank *tank, const struct tank_settings *settings, double water_c);

/* One step: heat_w into the layer at `height` (0 bottom .. 1 top), hot_l litres
 * out at the top and as many in at the bottom at inlet_c, loss to the room. */
void tank_step(struct tank *tank, double dt_s, double heat_w, double height, double hot_l,
               double inlet_c);

/* Its parts, in their order, for whoever needs them apart. */
void tank_lose(struct tank *tank, double dt_s);
void tank_draw(struct tank *tank, double hot_l, double inlet_c);
void tank_conduct(struct tank *tank, double dt_s);
void tank_heat(struct tank *tank, double height, double j);
void tank_rise(struct tank *tank);

/* What it loses to the room in dt_s from now if left alone, J. */
double tank_loss_j(struct tank *tank, double dt_s);

double tank_at_c(const struct tank *tank, double height);
double tank_heat_j(const struct tank *tank, double above_c);
double tank_mean_c(const struct tank *tank);

/* Heat that an element at `height` must give before any of the water from there up is
 * at_c: it warms that water together, from below. */
double tank_room_j(const struct tank *tank, double height, double at_c);

#endif
