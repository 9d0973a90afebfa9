// The texts of checklists/ in Spanish: duties and stocks, by their ids.

export const checklists_es: Record<string, string> = {
  // Las tareas de checklists/duties.textproto, frase a frase.
  "duty.unplug.title": "Desenchufada o bloqueada",
  "duty.unplug.why": "Así no puede arrancar bajo las manos de nadie, tampoco las tuyas al limpiar.",
  "duty.unplug.caution": "Máquina apagada y parada antes de nada.",
  "duty.blade-down.title": "Disco por debajo de la mesa",
  "duty.blade-down.why": "Un disco bajo la mesa no engancha una manga ni una tabla que cae.",
  "duty.blade-down.caution": "Máquina apagada y parada antes de nada.",
  "duty.guard-back.title": "Protector en su sitio",
  "duty.guard-back.why": "La siguiente persona confía en que el protector está en su sitio.",
  "duty.guard-back.caution.1": "Máquina apagada y parada antes de nada.",
  "duty.guard-back.caution.2":
    "Si el protector no vuelve a su sitio: deja la máquina apagada y avisa a quien coordina.",
  "duty.chuck-key-out.title": "Llave del portabrocas fuera y colgada",
  "duty.chuck-key-out.why": "Una llave olvidada en el portabrocas sale volando al arrancar.",
  "duty.chuck-key-out.caution": "Máquina apagada y parada antes de nada.",
  "duty.bit-out.title": "Broca o fresa fuera y guardada",
  "duty.bit-out.why": "En su caja siguen afiladas, y nadie se corta con una.",
  "duty.bit-out.caution.1": "Desenchúfala o bloquéala antes de meter la mano.",
  "duty.bit-out.caution.2": "Queda caliente tras el trabajo y corta aun parada.",
  "duty.card-off.title": "Tarjeta fuera",
  "duty.card-off.why": "Sin tarjeta la máquina queda apagada y dejan de contar sus horas.",
  "duty.card-off.caution": "Una tarjeta no es un bloqueo.",
  "duty.release-stop.title": "Parada suelta, interruptor apagado",
  "duty.release-stop.why": "Una parada que queda pulsada hace creer que la máquina está rota.",
  "duty.release-stop.caution.1":
    "Una parada pulsada en una emergencia sigue pulsada hasta que mire una persona formada.",
  "duty.release-stop.caution.2":
    "Si algo arranca al soltarla, púlsala otra vez y avisa a quien coordina.",
  "duty.close-gate.title": "Compuerta cerrada",
  "duty.close-gate.why": "Una compuerta abierta quita aspiración a todas las demás máquinas.",
  "duty.wipe-table.title": "Mesa cepillada",
  "duty.wipe-table.why":
    "El polvo que queda en la mesa guarda humedad y estropea el próximo corte.",
  "duty.wipe-table.caution":
    "Solo con el cepillo y con la herramienta parada: nunca con la mano desnuda, nunca con aire comprimido.",
  "duty.fence-home.title": "Guía en su marca",
  "duty.fence-home.why": "La siguiente persona empieza desde un ajuste que todos conocen.",
  "duty.rest-home.title": "Apoyos y topes en su sitio",
  "duty.rest-home.why": "Nada estorba ni falta la próxima vez.",
  "duty.empty-catch-tray.title": "Bandeja vaciada",
  "duty.empty-catch-tray.why": "Una bandeja llena se derrama en el suelo que se barre después.",
  "duty.empty-catch-tray.caution.1": "Con la herramienta parada y con el cepillo.",
  "duty.empty-catch-tray.caution.2":
    "Las virutas de metal cortan y pueden estar calientes: que no lleguen al polvo, aspiradores ni extracción de madera.",
  "duty.vac-hose-home.title": "Manguera suelta y enrollada en su gancho",
  "duty.vac-hose-home.why": "Así alcanza para todos y nadie tropieza con ella.",
  "duty.spark-check.title":
    "{machine}: mira y huele si hay algo caliente, alrededor y bajo su banco",
  "duty.spark-check.why":
    "Una chispa puede arder sin llama una hora en el polvo antes de que alguien la vea.",
  "duty.spark-check.caution.1":
    "Las chispas de metal nunca van a una extracción ni a un aspirador de madera.",
  "duty.spark-check.caution.2":
    "Si ves una brasa o huele a humo: no toques polvo ni bolsas, no enciendas la extracción, avisa a todos y sigue las normas contra incendios.",
  "duty.spark-check.caution.3": "El polvo de madera arde y, en el aire, puede explotar.",
  "duty.rags-to-can.title": "Todos los trapos con aceite a la lata de metal, tapa cerrada",
  "duty.rags-to-can.why": "Un trapo con aceite arrugado puede calentarse y arder solo.",
  "duty.rags-to-can.caution.1": "Nunca a la basura, a un bolsillo ni a un montón.",
  "duty.rags-to-can.caution.2":
    "La lata se vacía cada día, según las normas locales y por alguien que sepa; di a quien cierre que se ha usado.",
  "duty.tools-home.title": "Lleva a su sitio herramientas de mano y sargentos",
  "duty.tools-home.why":
    "Un banco vacío se limpia en la mitad de tiempo, y todos lo encuentran todo.",
  "duty.tools-home.caution.1": "Lleva los filos hacia abajo y tapados.",
  "duty.tools-home.caution.2": "Las romas o rotas, donde el taller guarda lo que hay que reparar.",
  "duty.glue-clean.title": "Raspa la cola y lava pinceles y botes",
  "duty.glue-clean.why": "La cola cuesta hoy un minuto y mañana un formón.",
  "duty.glue-clean.caution.1":
    "Guantes y ventanas abiertas salvo con cola al agua; lee su etiqueta.",
  "duty.glue-clean.caution.2": "Nada de disolvente por el desagüe.",
  "duty.scraps-to-size.title": "Recortes: los largos al estante, el resto a la medida del cajón",
  "duty.scraps-to-size.why":
    "Los recortes largos se caen y hacen tropezar, y de los cortos caben más.",
  "duty.scraps-to-size.caution.1":
    "Córtalos con sierra de mano, o a máquina solo si estás formado en ella; los trozos cortos son los peligrosos.",
  "duty.scraps-to-size.caution.2": "Nada que lleve clavos.",
  "duty.common-dust.title": "{zone}: tu parte del polvo fino del taller",
  "duty.common-dust.why":
    "El polvo más fino de todos se posa en alto, y así el taller queda más limpio que antes.",
  "duty.common-dust.caution.1": "Mascarilla ajustada y gafas.",
  "duty.common-dust.caution.2": "Aspira, no barras ni soples.",
  "duty.common-dust.caution.3":
    "Desde el suelo con el tubo largo; escalera solo si las normas del taller lo permiten y alguien la sujeta.",
  "duty.collector-off.title": "{collector}: {minutes} min más, luego apagar, con la parada suelta",
  "duty.collector-off.why": "Los conductos se vacían solos y nadie lo encuentra muerto mañana.",
  "duty.collector-off.caution":
    "Si huele a humo o entraron chispas de metal, no lo dejes en marcha: apágalo, avisa a todos y sigue las normas contra incendios.",
  "duty.look-at-bin.title": "{bin}: mira dentro y di cuánto hay",
  "duty.look-at-bin.why": "Una mirada dice más que cualquier previsión.",
  "duty.look-at-bin.caution": "Extracción apagada y parada antes de abrir; mira, no metas la mano.",
  "duty.empty-bin.title": "{bin}: vaciar",
  "duty.empty-bin.why": "Un depósito lleno deja de aspirar y el polvo se va al aire.",
  "duty.empty-bin.caution.1": "Gafas y mascarilla ajustada.",
  "duty.empty-bin.caution.2": "Antes, desenchufa o bloquea la extracción.",
  "duty.empty-bin.caution.3": "Dos personas para una bolsa pesada.",
  "duty.empty-bin.caution.4": "Sin chispas cerca: el polvo de madera arde y puede explotar.",
  "duty.empty-bin.caution.5": "Si está caliente o huele a humo, déjalo y avisa a todos.",
  "duty.empty-bin.caution.6": "Adónde va el polvo lo dicen las normas locales.",
  "duty.clean-filter.title": "{collector}: limpiar su filtro",
  "duty.clean-filter.why":
    "Un filtro atascado deja a la mitad la aspiración de todas sus máquinas.",
  "duty.clean-filter.caution.1": "Gafas y mascarilla ajustada.",
  "duty.clean-filter.caution.2": "Antes, desenchufa o bloquea.",
  "duty.clean-filter.caution.3":
    "Sacude o gira como dice su manual; nada de aire comprimido dentro.",
  "duty.clean-filter.caution.4": "Pregunta a quien ya lo haya hecho.",
  "duty.ceiling-filter.title": "Filtros de techo: poner {minutes} min",
  "duty.ceiling-filter.why": "Recogen lo que aún flota cuando ya te has ido.",
  "duty.ceiling-filter.caution":
    "Hasta que el aire esté limpio, mascarilla puesta, también al limpiar.",
  "duty.last-look.title": "Mira alrededor, y huele también",
  "duty.last-look.why":
    "Un motor en marcha, una bolsa caliente, una manguera en el paso: vistos ahora, nadie los encuentra a oscuras.",
  "duty.last-look.caution.1":
    "Humo o calor: avisa a todos, sal y sigue las normas contra incendios.",
  "duty.last-look.caution.2": "No abras una bolsa que huela a humo.",
  "duty.lock-extraction.title": "Extracción apagada, su parada suelta",
  "duty.lock-extraction.why":
    "Un ventilador toda la noche sobre una bolsa de polvo es el fuego que nadie ve; una parada pulsada parece mañana una máquina rota.",
  "duty.lock-extraction.caution.1":
    "Si huele a humo: primero apagar, no abras los depósitos, avisa a todos y llama a los bomberos.",
  "duty.lock-extraction.caution.2":
    "Una parada pulsada en una emergencia sigue pulsada hasta que mire una persona formada.",
  "duty.lock-extraction.if-not":
    "Apágala en el cuadro si te lo han enseñado, cuelga una nota y avisa hoy a quien coordina.",
  "duty.lock-warm-dust.title": "Sin polvo caliente: el dorso de la mano por fuera, mira y huele",
  "duty.lock-warm-dust.why": "Una chispa puede arder horas en una bolsa antes de prender.",
  "duty.lock-warm-dust.caution.1":
    "Caliente, o huele a humo: no lo abras, no lo muevas, no enciendas nada.",
  "duty.lock-warm-dust.caution.2": "Saca a todos y llama a los bomberos desde fuera.",
  "duty.lock-warm-dust.caution.3": "El polvo de madera arde y, en el aire, puede explotar.",
  "duty.lock-warm-dust.if-not":
    "Nunca dejes polvo caliente ni humo: todos fuera, llama a los bomberos y luego a quien coordina.",
  "duty.lock-rags.title":
    "Trapos con aceite: todos en la lata con tapa, ninguno en bancos ni basura",
  "duty.lock-rags.why": "Un trapo con aceite arrugado puede calentarse y arder solo.",
  "duty.lock-rags.caution.1":
    "La lata se vacía cada día, según las normas locales y por alguien que sepa.",
  "duty.lock-rags.caution.2": "Tapa cerrada.",
  "duty.lock-rags.if-not":
    "Si no hay lata o está llena: saca los trapos, extiéndelos en suelo desnudo lejos del edificio como digan las normas locales, y avisa hoy a quien coordina.",
  "duty.lock-hot.title":
    "Calefactores, botes de cola y herramientas calientes: apagados, desenchufados, fríos",
  "duty.lock-hot.why": "Lo olvidado en un banco sigue caliente a medianoche.",
  "duty.lock-hot.caution.1": "Comprueba el calor con el dorso de la mano cerca, nunca encima.",
  "duty.lock-hot.caution.2": "Aparta polvo y trapos.",
  "duty.lock-hot.if-not":
    "Si sigue caliente: quédate hasta que se enfríe, o pásalo a alguien que se quede.",
  "duty.lock-compressor.title": "Compresor apagado, depósito purgado",
  "duty.lock-compressor.why":
    "El agua oxida el depósito por dentro, y una fuga arrancaría el motor de noche.",
  "duty.lock-compressor.caution.1": "Gafas, y abre la purga despacio.",
  "duty.lock-compressor.caution.2": "Manos y cara fuera del chorro; el manual manda.",
  "duty.lock-gates.title": "Compuertas cerradas",
  "duty.lock-gates.why": "Una compuerta abierta quita aspiración a la primera máquina mañana.",
  "duty.lock-gates.caution": "Máquina parada antes de pasar la mano.",
  "duty.lock-filters.title": "Filtros de techo: con temporizador, {minutes} min",
  "duty.lock-filters.why": "Recogen lo que aún flota y se paran solos.",
  "duty.lock-scrap.title": "Recortes en su cajón, ninguno en el suelo",
  "duty.lock-scrap.why": "Nadie tropieza, y la siguiente persona ve si hay sitio.",
  "duty.lock-scrap.caution": "Nada con aceite ni caliente.",
  "duty.lock-trash.title": "Basura al contenedor, contenedor cerrado",
  "duty.lock-trash.why": "El polvo y los recortes fuera del edificio arden fuera del edificio.",
  "duty.lock-trash.caution.1": "Dos personas para una bolsa pesada, o haz dos viajes.",
  "duty.lock-trash.caution.2": "Nada con aceite ni caliente.",
  "duty.lock-windows.title": "Ventanas cerradas con pestillo",
  "duty.lock-windows.why": "Lluvia sobre hierro fundido es óxido por la mañana.",
  "duty.lock-windows.caution":
    "Desde el suelo o un escalón hecho para eso; no te subas a los bancos si no hay nadie más.",
  "duty.lock-exits.title": "Salidas de emergencia: libres por dentro y por fuera, y se abren",
  "duty.lock-exits.why": "Quien abra mañana debe poder salir a oscuras.",
  "duty.lock-exits.if-not":
    "Bloqueada o atascada: despeja lo que puedas, cuelga una nota en la entrada y avisa a quien coordina antes de que nadie vuelva a trabajar aquí.",
  "duty.lock-keys.title": "Llaves y tarjetas en su sitio, la caja cerrada",
  "duty.lock-keys.why": "Una llave que se fue a casa le quita la tarde a alguien.",
  "duty.lock-doors.title": "Las demás puertas cerradas",
  "duty.lock-doors.why": "Nadie entra donde hay máquinas que nadie vigila.",
  "duty.lock-doors.caution.1": "Avisa en voz alta antes: que nadie quede dentro.",
  "duty.lock-doors.caution.2":
    "Una puerta que también es salida de emergencia debe seguir abriendo por dentro.",
  "duty.lock-lights.title": "Última mirada, huele también, y luces fuera",
  "duty.lock-lights.why":
    "Un motor que zumba, una lámpara que brilla: se notan mejor en un taller callado y a oscuras.",
  "duty.lock-lights.caution.1": "Alúmbrate la salida antes de apagar.",
  "duty.lock-lights.caution.2": "Humo o calor: fuera, y llama a los bomberos.",
  "duty.lock-lights.if-not":
    "Algo que huela, zumbe o brille sin explicación: no lo dejes; pregunta a quien coordina o llama a los bomberos.",
  "duty.lock-way-out.title": "Fuera, y cierra la puerta con llave",
  "duty.lock-way-out.why": "Entonces el taller está cerrado: dilo aquí, con lo que siga pendiente.",
  "duty.lock-way-out.caution": "No queda nadie dentro.",
  "duty.lock-way-out.if-not":
    "Si falla la cerradura: quédate o que alguien se quede, y llama a quien coordina.",

  // Los materiales de checklists/stocks.textproto.
  "stock.cherry.name": "Cerezo negro",
  "stock.red-oak.name": "Roble rojo",
  "stock.white-oak.name": "Roble blanco",
  "stock.sugar-maple.name": "Arce azucarero (duro)",
  "stock.red-maple.name": "Arce rojo (blando)",
  "stock.walnut.name": "Nogal negro",
  "stock.beech.name": "Haya americana",
  "stock.yellow-birch.name": "Abedul amarillo",
  "stock.yellow-poplar.name": "Tulípero",
  "stock.basswood.name": "Tilo americano",
  "stock.red-alder.name": "Aliso rojo",
  "stock.white-ash.name": "Fresno blanco",
  "stock.hickory.name": "Nogal americano (hickory)",
  "stock.douglas-fir.name": "Pino Oregón",
  "stock.ponderosa-pine.name": "Pino ponderosa",
  "stock.longleaf-pine.name": "Pino de hoja larga",
  "stock.eastern-white-pine.name": "Pino blanco",
  "stock.sitka-spruce.name": "Pícea de Sitka",
  "stock.redwood.name": "Secuoya roja joven",
  "stock.western-red-cedar.name": "Cedro rojo del Pacífico",
  "stock.teak.name": "Teca",
  "stock.iroko.name": "Iroko",
  "stock.african-mahogany.name": "Caoba africana (khaya)",
  "stock.mdf.name": "MDF (tablero de fibra)",
  "stock.particleboard.name": "Aglomerado",
  "stock.softwood-plywood.name": "Contrachapado de conífera",
  "stock.birch-plywood.name": "Contrachapado de abedul",
  "stock.hardwood-plywood.name": "Contrachapado de frondosa, alma ligera",
  "stock.osb.name": "OSB (virutas orientadas)",
  "stock.hardboard.name": "Tablero duro",
  "stock.melamine-board.name": "Aglomerado con melamina",
  "stock.steel.name": "Acero suave",
  "stock.aluminium.name": "Aluminio",
  "stock.brass.name": "Latón",
  "stock.acrylic.name": "Plancha acrílica",
};
