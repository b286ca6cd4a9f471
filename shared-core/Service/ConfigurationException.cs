namespace Cardassay.Service;

/// <summary>A configuration file cannot be used; the message is one sentence that names the file, the line and what to do.</summary>
public sealed class ConfigurationException(string message, Exception? inner = null) : Exception(message, inner);
