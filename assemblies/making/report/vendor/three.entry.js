export { WebGLRenderer, Scene, PerspectiveCamera, OrthographicCamera, Group, Mesh, LineSegments, Line, BufferGeometry, BufferAttribute, Float32BufferAttribute,
  MeshLambertMaterial, MeshStandardMaterial, MeshBasicMaterial, LineBasicMaterial, LineDashedMaterial, HemisphereLight, DirectionalLight, AmbientLight, Plane,
  Vector3, Vector2, Quaternion, Matrix4, Box3, Sphere, Color, EdgesGeometry, Raycaster, SphereGeometry, GridHelper, BackSide, DoubleSide, FrontSide } from 'three';
export { OrbitControls } from 'three/addons/controls/OrbitControls.js';
