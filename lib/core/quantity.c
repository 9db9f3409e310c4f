#include "core/quantity.h"
