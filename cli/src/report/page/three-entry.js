export { WebGLRenderer, Scene, PerspectiveCamera, BufferGeometry, BufferAttribute, Mesh, LineSegments, LineBasicMaterial, ShaderMaterial, MeshBasicMaterial, Raycaster, Vector2, Vector3, Vector4, Box3, Group, GLSL3, DoubleSide, Color } from 'three';
export { OrbitControls } from 'three/examples/jsm/controls/OrbitControls.js';
