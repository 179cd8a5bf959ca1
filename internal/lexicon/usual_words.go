package lexicon

// usualWordList are words of everyday English and Spanish, of ranches and of sheets, that are one slip of the hand away
// from a word about a nest, a cover or an animal, and are no slip.
const usualWordList = `across action again age ahead air along amount april area arm arms around august average ball band bank bar barn base bath
	bearing bed bell bench bend big bill birth black block blue board boat body bold book both bottom box branch bread bridge brother brothers brown
	bunch bunches butte calm camp case center century chain change charge charged chart child church city class clear close cloud clover coal coat code
	cold color colour column comment comments common copy corner cost could count counter counts county couple course cover covered crew cup cut daily
	date dated dates deal dear deer desk detail distance district divide door double draft draw drive drop dropseed dry dust duty each early earth east
	edge end enter entry event evens every example face fact fail fails fall family farm father feed fell fence few field file final finding findings
	first five flat floor folks follow form four fresh friday front full fund garden gate general given glass gold grade grand grandma grandpa gravel
	group guess half halves hall hand handle head heard heart height help hill hold home hope hour house ice idea initial inside iron item june july jump
	keep kind knee land large later lawn lead leader leave ledge length letter level light line list little load local log long loop lower lunch main man
	many map march mark master match meadow mean measure medium method middle mile mill mind mine minute monday money month moon morning most mother
	mound mouth near neck next night noon north note notes number oak observer odd odds off office often old once open order other over owner pace page
	paint pair paper part parts party pass past paste pasted pasture patch path pen pencil people percent phone photo picture piece pine place plain plan
	plate plot point pole pond pool poor post pound power price print prior process project proof quarter quick ranch range rate reach ready real rear
	record red region remark remarks report rest result retained ridge right road rock roof room round route row rows rule sample saturday save scale
	school scrap second section seed send sent series seven shape sheet short show side sight sign simple site six size skip slope slow small snow soil
	some sort south space spot spring square stage stand start state station status step steps still stock stone stop stopped stops storage store storm
	story street strip stripe style sum summer sunday supper table tank team ten tent test text thank thanks their then thing think third this thread
	three thursday time times title today told top total tower town track tract trail trails trial trip tuesday turn two type under unit until upper upland
	valley value view visit wagon walk wall ward warm watch way weather wednesday week weeks weight well wells west wheel whole wide width wind windmill winter
	word work yard year yellow young yuca
	abajo abril agosto algo alguno algunos alto altura ancho ano anos antes apunte area arriba arroyo atras baja bajo banco barranca bordo bosque brazo
	brecha caja calle cama caminata camino campo canada cana cancha carta casa cerca cerco cerro cerros cerrito chico cinco color columna combo comillas como
	corral corrijo corte cosa crucero cuaderno cuadro cuarto cuatro cuenta cuesta de desde despues dia dias dios don dona dos durante echadas ella ellos enero
	entre equipo escuela ese esta estado este familia fecha fechas febrero fila filas forma franja frente fuera ganadero gente grande guero hacia hasta hermano
	hija hijo hoja hojas hola hora horas hoy huele inge izquierda jefe joven jueves julio junio junto lado largo lectura letra libreta linea lineas lista llano
	loma lomas lugar lunes luz madre madres mano mapa marca marzo martes mayo medida medio mesa metro mexico mismo mitad modo muestra mundo nada noche nombre
	nones norte nota notas nuestro nueva nueve numero obra ocho octubre orilla oriente otra otro padre padres pagina palo pancho papel papa parcela pares
	parte pasos pasto patio patron peso piedra pies plan planta plaza poco poniente potrero predio primera pueblo puente puerta punto quince rancho rastra
	recoger registro revisas rincon ruta sabado salida santa santo segunda semana senal senor siembra siete sierra sitio sobre sur tabla tambien tarde
	tarjeta tercera terreno tiempo tierra tinaja tio toda total trabajo tres trigo usted vado valle vega vereda verde viejo viernes visita vuelta zacaton zona`
